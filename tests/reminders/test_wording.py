from __future__ import annotations

import pytest

from clinic.reminders.kinds import Kind, Wording, register
from clinic.reminders.rules.wording import check_placeholders, fill, one_line, pick_language


def test_only_the_listed_placeholders_are_filled():
    assert fill("Hello {first_name}, {day} {time}.", {"first_name": "Ada", "day": "Tue", "time": "10:00"}) == (
        "Hello Ada, Tue 10:00."
    )
    assert fill("Call {phone}.", {}) == "Call ."


def test_a_value_is_never_read_as_a_template():
    assert fill("Hello {first_name}", {"first_name": "{url} {0.__class__} %s", "url": "x"}) == (
        "Hello {url} {0.__class__} %s"
    )


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("Ada\r\nBcc: eve@x.example", "Ada Bcc: eve@x.example"),
        ("Ada\u2028X-Header: 1", "Ada X-Header: 1"),
        ("Ada\x00\x1b[31m", "Ada [31m"),
        ("Ada\u202egnp", "Ada gnp"),
        ("  Zoë   O'Brien ", "Zoë O'Brien"),
    ],
)
def test_a_value_stays_on_one_line(typed, shown):
    assert one_line(typed) == shown


@pytest.mark.parametrize(
    ("language", "picked"), [("es", "es"), ("es-MX", "es"), ("ES_ar", "es"), ("fr", "en"), ("", "en")]
)
def test_the_language_falls_back_to_english(language, picked):
    assert pick_language(language, {"en": 1, "es": 2}) == picked


def test_a_wording_with_another_placeholder_is_refused_when_it_is_registered():
    check_placeholders("{first_name} {url}")
    with pytest.raises(ValueError, match=r"\{diagnosis\}"):
        check_placeholders("{first_name} {diagnosis}")
    odd = Kind(
        code="odd", label="Odd", wordings={"en": Wording("s", "{pain}")}, still_wanted=lambda message, now: None
    )
    with pytest.raises(ValueError, match=r"message kind odd, language en: unknown placeholder \{pain\}"):
        register(odd)


def test_a_kind_needs_english_and_a_code_of_its_own():
    plain = Kind(code="plain", label="P", wordings={"es": Wording("s", "b")}, still_wanted=lambda message, now: None)
    with pytest.raises(ValueError, match="no English wording"):
        register(plain)
    taken = Kind(code="mail_check", label="P", wordings={"en": Wording("s", "b")}, still_wanted=lambda message, now: None)
    with pytest.raises(ValueError, match="registered twice"):
        register(taken)
