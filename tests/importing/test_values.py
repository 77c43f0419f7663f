"""Names, phones, addresses, yes and no, numbers: the refused beside the accepted."""

import pytest

from clinic.people.importing import values
from clinic.people.importing.faults import Fault


def code_of(read, *arguments):
    with pytest.raises(Fault) as refused:
        read(*arguments)
    return refused.value.code


@pytest.mark.parametrize(
    "cell",
    ["01632 960123", "(01632) 960 123", "+44 1632 960123", "+44 (0)1632 960123", "0044 1632 960123", "01632-960-123",
     "Tel: 01632 960123", "01632.960.123", 1632960123, 1632960123.0],
)
def test_one_phone_number_in_many_spellings(cell):
    assert values.read_phone(cell, "GB") == "+441632960123"


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("07700 9OO123", "not_a_phone"), ("0163", "not_a_phone"), ("960123", "not_a_phone"), ("ask her", "not_a_phone"),
        ("07700 900123 / 01632 960123", "several_phones"), ("07700 900123 or 900124", "several_phones"),
        ("07700 900123 07700 900124", "not_a_phone"), ("+999 12", "not_a_phone"),
    ],
)
def test_phones_refused(cell, code):
    assert code_of(values.read_phone, cell, "GB") == code


@pytest.mark.parametrize("cell", ["yes", "Y", "TRUE", True, "1", 1, 1.0, "✓", "sí"])
def test_yes(cell):
    assert values.read_yes_no(cell) is True


@pytest.mark.parametrize("cell", ["no", "N", False, "0", 0])
def test_no(cell):
    assert values.read_yes_no(cell) is False


@pytest.mark.parametrize("cell", ["perhaps", "yes no", "2", "on holiday"])
def test_neither(cell):
    assert code_of(values.read_yes_no, cell) == "not_yes_or_no"


@pytest.mark.parametrize(("cell", "number"), [("4,5", 4.5), ("4.5", 4.5), (4.5, 4.5), ("10", 10.0), (0, 0.0)])
def test_numbers(cell, number):
    assert values.read_number(cell, 0, 10) == number


@pytest.mark.parametrize(
    ("cell", "code"),
    [("-1", "out_of_range"), ("−1", "out_of_range"), ("11", "out_of_range"), ("1.234,5", "not_a_number"),
     ("nan", "not_a_number"), ("1e1", "not_a_number"), ("inf", "not_a_number"), (True, "not_a_number"),
     ("ten", "not_a_number")],
)
def test_numbers_refused(cell, code):
    assert code_of(values.read_number, cell, 0, 10) == code


def test_whole_numbers():
    assert values.read_whole("4/10", 0, 10) == 4
    assert values.read_whole(4.0, 0, 10) == 4
    assert code_of(values.read_whole, "3,5", 0, 10) == "not_whole"
    assert code_of(values.read_whole, "11", 0, 10) == "out_of_range"


def test_names():
    assert values.read_name("A\u0301ngela   Nu\u0301n\u0303ez") == "Ángela Núñez"
    assert code_of(values.read_name, "—") == "not_a_name"
    assert code_of(values.read_name, "x" * 121) == "not_a_name"


def test_addresses():
    assert values.read_email(" Ada@Mail.Example ") == "ada@mail.example"
    assert code_of(values.read_email, "ada@mail.example, bo@mail.example") == "not_an_email"


def test_text_has_a_length():
    assert values.read_text("x" * 200) == "x" * 200
    assert code_of(values.read_text, "x" * 201) == "too_long"


def test_a_word_from_a_list_ignores_case_and_accents():
    assert values.read_choice("Español", {"espanol": "es"}, "language") == "es"
    assert code_of(values.read_choice, "Klingon", {"espanol": "es"}, "language") == "unknown_word"
