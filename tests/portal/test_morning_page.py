"""The morning after: one question, once."""

import uuid
from datetime import timedelta

import pytest

from programs.following.actions.log_session import log_session
from programs.following.models import DayRecord, MorningAnswer
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.prescribing.queries import newest_revision
from tests.portal.conftest import items


@pytest.fixture
def next_morning(cast, program, browse, now, clock):
    """Ada's browser on the day after a session."""
    log_session(
        by=cast.ada.user, program=program, now=now,
        entry=SessionEntry(
            log_id=uuid.uuid4(), edit=0, revision=newest_revision(program).public_id, day=now.date(), pain_during=3,
            items=tuple(ItemEntry(item.key, 60, 60) for item in items(3)),
        ),
    )
    clock.move_to(now + timedelta(days=1))
    return browse(cast.ada.user)


def test_the_question_waits_on_todays_page_until_it_is_answered(next_morning, program):
    assert "How does it feel this morning?" in next_morning.get("/portal/").content.decode()
    page = next_morning.get("/portal/morning/")
    assert "You did a session on Monday 2 March" in page.content.decode()
    form = page.context["form"].initial
    data = {"answer_id": form["answer_id"], "day": form["day"], "pain": "2"}
    assert next_morning.post("/portal/morning/", data).status_code == 302
    assert next_morning.post("/portal/morning/", data).status_code == 302
    assert MorningAnswer.objects.count() == 1
    assert DayRecord.objects.get(program=program, day="2026-03-02").pain_next_morning == 2
    assert "How does it feel this morning?" not in next_morning.get("/portal/").content.decode()


@pytest.mark.parametrize("pain", ["", "11", "-1", "much"])
def test_a_number_off_the_scale_is_refused(next_morning, pain):
    answer = next_morning.post("/portal/morning/", {"answer_id": uuid.uuid4(), "day": "2026-03-02", "pain": pain})
    assert answer.status_code == 400
    assert "Choose a number from 0 to 10." in answer.content.decode()
    assert MorningAnswer.objects.count() == 0


def test_a_day_before_the_program_is_refused_in_a_sentence(next_morning):
    answer = next_morning.post("/portal/morning/", {"answer_id": uuid.uuid4(), "day": "2026-02-01", "pain": "3"})
    assert answer.status_code == 400
    assert "not one of this program" in answer.content.decode()


def test_without_a_session_yesterday_there_is_no_question(cast, program, browse):
    assert "nothing to answer this morning" in browse(cast.ada.user).get("/portal/morning/").content.decode()


def test_without_a_program_an_answer_has_nowhere_to_go(cast, browse):
    data = {"answer_id": uuid.uuid4(), "day": "2026-03-02", "pain": "3"}
    assert browse(cast.ada.user).post("/portal/morning/", data).status_code == 404
