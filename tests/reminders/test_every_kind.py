"""Every message that can go to a client is there in each language they can choose, and says the same in each."""

import re

import pytest

from clinic.people.forms import LANGUAGES
from clinic.reminders.kinds import all_kinds

HOLE = re.compile(r"\{\w+\}")
# a client's consent is asked for what goes to a client; members of the practice read English
OURS = [kind for kind in all_kinds() if not kind.still_wanted.__module__.startswith("tests.")]
TO_CLIENTS = [kind for kind in OURS if kind.needs_consent]
TO_STAFF = {
    "client_silent", "daily_digest", "kick_off_end", "mail_check", "reassessment_overdue", "record_opened", "red_flag",
}
LEFT_IN_ENGLISH = re.compile(r"\b(the|your|you|and|with|please|hello|visit|call|ring|is|are|to|if|not)\b", re.I)


def test_what_goes_to_clients_is_all_but_the_messages_to_the_practice():
    assert {kind.code for kind in OURS if not kind.needs_consent} == TO_STAFF
    assert len(TO_CLIENTS) >= 9


@pytest.mark.parametrize("kind", TO_CLIENTS, ids=lambda kind: kind.code)
def test_it_is_there_in_every_language_with_the_same_holes(kind):
    assert set(kind.wordings) == {code for code, _ in LANGUAGES}
    english = kind.wordings["en"]
    for language, wording in kind.wordings.items():
        for said, meant in ((wording.subject, english.subject), (wording.body, english.body)):
            assert sorted(HOLE.findall(said)) == sorted(HOLE.findall(meant)), language


@pytest.mark.parametrize("kind", TO_CLIENTS, ids=lambda kind: kind.code)
def test_its_spanish_is_spanish_to_one_person_as_usted(kind):
    spanish = kind.wordings["es"]
    for text in (spanish.subject, spanish.body):
        plain = HOLE.sub("", text)
        assert not LEFT_IN_ENGLISH.search(plain), plain
        assert not re.search(r"\b(tú|tu|tus|te|ti)\b", plain, re.I), plain
    assert "Hola, {first_name}:" in spanish.body
    assert len(spanish.subject) <= 78   # a header line, RFC 5322, 2.1.1


@pytest.mark.parametrize("kind", TO_CLIENTS, ids=lambda kind: kind.code)
def test_it_says_a_first_name_a_time_and_the_clinic_and_nothing_more(kind):
    for wording in kind.wordings.values():
        holes = set(HOLE.findall(wording.subject + wording.body))
        assert holes <= {"{first_name}", "{time}", "{day}", "{clinic}", "{phone}", "{url}"}
        assert {"{first_name}"} <= holes
