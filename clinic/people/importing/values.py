"""The other kinds of cell: names, phone numbers, addresses, yes and no, numbers, one of a list."""

from __future__ import annotations

import re
from collections.abc import Mapping

from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault
from clinic.people.rules import contacts

_YES = frozenset({"yes", "y", "true", "t", "1", "x", "✓", "✔", "done", "si", "sí", "s"})
_NO = frozenset({"no", "n", "false", "f", "0", "-", "none"})
_PHONE_WORDS = re.compile(r"^\s*(?:tel|phone|mobile|mob|home|t|m)\b[.:]?\s*", re.IGNORECASE)
_SEVERAL = re.compile(r"[/;]|\bor\b|,\s*\+?\d{4}", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def read_text(cell: Cell, most: int = 200) -> str:
    """Text of at most `most` characters. Fault too_long."""
    text = as_text(cell)
    if len(text) > most:
        raise Fault("too_long", f"This has {len(text)} characters; {most} fit.", "Shorten it.")
    return text


def read_name(cell: Cell) -> str:
    """A name in its stored form. Fault not_a_name."""
    try:
        name = contacts.clean_name(as_text(cell))
    except ValueError as error:
        raise Fault("not_a_name", f"Not usable: {error}.", "Write the name as it is spoken to.") from None
    if not any(sign.isalpha() for sign in name):
        raise Fault("not_a_name", "A name has at least one letter.", "Write the name as it is spoken to.")
    return name


def read_phone(cell: Cell, region_code: str) -> str:
    """A phone number in E.164; national ones belong to `region_code`. Fault not_a_phone, several_phones."""
    text = _PHONE_WORDS.sub("", as_text(cell))
    how = "Write one number, like 01632 960123 or +44 1632 960123."
    if _SEVERAL.search(text):
        raise Fault("several_phones", "There is more than one number here.", how)
    if re.search(r"[^\W\d_]", text):   # letters would be read as keys of an old telephone
        raise Fault("not_a_phone", "A phone number has no letters.", how)
    try:
        return contacts.clean_phone(text, region_code)
    except ValueError as error:
        raise Fault("not_a_phone", f"Not usable: {error}.", how) from None


def read_email(cell: Cell) -> str:
    """A mail address in lower case. Fault not_an_email."""
    try:
        return contacts.clean_email(as_text(cell).removeprefix("mailto:"))
    except ValueError:
        how = "Write one address, like name@example.org."
        raise Fault("not_an_email", "This is not a mail address.", how) from None


def read_yes_no(cell: Cell) -> bool:
    """Yes or no. Fault not_yes_or_no."""
    text = as_text(cell).casefold()
    if text in _YES:
        return True
    if text in _NO:
        return False
    raise Fault("not_yes_or_no", "This is neither yes nor no.", "Write yes or no.")


def read_number(cell: Cell, least: float, most: float) -> float:
    """A number within bounds; a comma counts as the decimal sign. Fault not_a_number, out_of_range."""
    text = as_text(cell).replace("−", "-")
    if isinstance(cell, bool) or not _NUMBER.fullmatch(text):
        raise Fault("not_a_number", "This is not a number.", f"Write a number from {least:g} to {most:g}.")
    number = float(text.replace(",", "."))
    if not least <= number <= most:
        how = f"Write a number from {least:g} to {most:g}."
        raise Fault("out_of_range", f"This must be {least:g} to {most:g}.", how)
    return number


def read_whole(cell: Cell, least: int, most: int) -> int:
    """A whole number within bounds. Fault not_a_number, not_whole, out_of_range."""
    text = re.sub(r"\s*/\s*10$", "", as_text(cell)) if most == 10 else as_text(cell)   # "4/10" on a scale
    number = read_number(text, least, most)
    if not number.is_integer():
        raise Fault("not_whole", "This must be a whole number.", f"Write a whole number from {least} to {most}.")
    return int(number)


def read_choice(cell: Cell, words: Mapping[str, str], what: str) -> str:
    """The code of a word; comparison without case and accents. Fault unknown_word lists what is known."""
    text = " ".join(re.findall(r"[^\W_]+", contacts.search_form(as_text(cell))))
    if text in words:
        return words[text]
    shown = ", ".join(dict.fromkeys(words.values()))
    raise Fault("unknown_word", f"This {what} is not known.", f"Use one of: {shown}.")
