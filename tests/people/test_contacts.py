"""Names, phones and mail addresses in one stored form.

Phone numbers are from the ranges that the British regulator keeps for drama (Ofcom, numbers for use in TV and radio
drama: 01632 960xxx, 07700 900xxx; from memory); E.164 allows at most 15 digits (ITU-T E.164).
"""

from __future__ import annotations

import pytest

from clinic.people.rules import contacts


@pytest.mark.parametrize(
    "written", ["07700 900101", "(07700) 900-101", "+44 7700 900101", "0044 7700 900101", "07700.900.101", "+447700900101"]
)
def test_many_spellings_of_one_phone_number(written):
    assert contacts.clean_phone(written, "GB") == "+447700900101"


@pytest.mark.parametrize("written", ["call me", "123", "+44 7700 900101 900101 900101", ""])
def test_what_is_not_a_phone_number_is_refused(written):
    with pytest.raises(ValueError):
        contacts.clean_phone(written, "GB")


def test_names_are_kept_as_given_in_one_unicode_form():
    assert contacts.clean_name("  A\u0301ngela   O'Brien ") == "Ángela O'Brien"
    assert contacts.clean_name("Null") == "Null"
    assert contacts.clean_name("שרה") == "שרה"


@pytest.mark.parametrize("name", ["Ada\x00", "x" * 121])
def test_names_with_control_characters_or_without_end_are_refused(name):
    with pytest.raises(ValueError):
        contacts.clean_name(name)


def test_search_ignores_accents_and_case():
    assert contacts.search_form("Ángela ŒUVRÉ") == contacts.search_form("angela œuvre")


@pytest.mark.parametrize("address", ["ada@client", "ada client@x.example", "a@b@c.example", "x" * 250 + "@a.example"])
def test_what_is_not_a_mail_address_is_refused(address):
    with pytest.raises(ValueError):
        contacts.clean_email(address)


def test_mail_addresses_are_lower_case():
    assert contacts.clean_email(" Ada@Client.Example ") == "ada@client.example"
