"""Names, phone numbers and mail addresses in one stored form each."""

from __future__ import annotations

import re
import unicodedata

import phonenumbers

_ADDRESS = re.compile(r"[^@\s\"<>(),;:\\]+@[^@\s\"<>(),;:\\]+\.[^@\s\"<>(),;:\\.]+")
MOST_NAME = 120


def clean_name(text: str) -> str:
    """A name in NFC without surrounding or doubled blanks. ValueError for control characters or too much of it."""
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if any(unicodedata.category(character) == "Cc" for character in name):
        raise ValueError("a name cannot hold control characters")
    if len(name) > MOST_NAME:
        raise ValueError(f"a name can have {MOST_NAME} characters at most, not {len(name)}")
    return name


def search_form(text: str) -> str:
    """Lower case without accents, for comparing names: 'Ángela' and 'angela' are alike."""
    plain = unicodedata.normalize("NFKD", text)
    return "".join(character for character in plain if not unicodedata.combining(character)).casefold().strip()


def clean_phone(text: str, region_code: str) -> str:
    """A phone number in E.164 (`+` and at most 15 digits). National numbers are read as of `region_code`."""
    try:
        number = phonenumbers.parse(text, region_code)
    except phonenumbers.NumberParseException:
        raise ValueError("this is not a phone number") from None
    # a number that works only within its own town is no use in international form
    if phonenumbers.is_possible_number_with_reason(number) != phonenumbers.ValidationResult.IS_POSSIBLE:
        raise ValueError("this phone number is too long or too short")
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


def clean_email(text: str) -> str:
    """A mail address in lower case. ValueError when it cannot be one (the shape of RFC 5322, without its comments)."""
    address = text.strip().lower()
    if len(address) > 254 or not _ADDRESS.fullmatch(address):
        raise ValueError("this is not a mail address")
    return address
