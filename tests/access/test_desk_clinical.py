"""The front desk sees nothing clinical: whatever a clinician wrote, measured or was told is looked for in every answer."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import transaction
from django.urls import reverse

from clinic.people.models import Episode
from clinic.visits.models import Measure, Result, Visit
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.write_note import write_note
from programs.following.models import Suggestion
from programs.library.models import Exercise
from programs.prescribing.models import Program
from tests.access.roles import user_of
from tests.access.test_matrix import ROWS
from tests.following.conftest import program, report, shelf
from tests.visits.conftest import measures

__all__ = ["measures", "program", "report", "shelf"]
MARKS = ("Zyxtitle", "Zyxexercise", "Zyxnote", "Zyxgoal", "Zyxvisit", "73.125", "Talk to the client")
DESK = [row for row in ROWS if row.method == "GET" and row.expect[3] == 200]


@pytest.fixture
def marked(cast, program, report, measures, now):
    """Ada's record with a mark in everything clinical; 30 days of it, so that rules and dashboards have something to say."""
    Exercise.objects.update(name="Zyxexercise")
    Program.objects.update(title="Zyxtitle")
    Episode.objects.filter(pk=program.episode_id).update(goals="Zyxgoal")
    for day in range(5):
        report(day, pain_during=7)
    write_note(by=cast.ada.user, program=program, note_id=uuid4(), text="Zyxnote hurts", now=now)
    visit = Visit.objects.create(episode=program.episode, clinician=cast.mina, at=now, note="Zyxvisit", by=cast.mina.user)
    Result.objects.create(
        episode=program.episode, visit=visit, measure=Measure.objects.get(code="hip-flexion"), value=73.125, at=now,
        by=cast.mina.user,
    )
    follow_programs(now=now + timedelta(days=30))
    assert Suggestion.objects.exists()
    return program


def found(text):
    return [mark for mark in MARKS if mark in text]


@pytest.mark.parametrize("row", DESK, ids=lambda row: row.route)
def test_no_page_file_or_answer_of_the_desk_holds_anything_clinical(row, cast, marked, browse):
    with transaction.atomic():
        address = reverse(row.route, kwargs=row.make(cast))
        answer = browse(user_of(cast, "desk")).get(address, row.query(cast) if row.query else {})
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        transaction.set_rollback(True)
    assert answer.status_code == 200
    assert found(body.decode("utf-8", "replace")) == []


@pytest.mark.parametrize("mark", MARKS)
def test_no_search_of_the_desk_finds_it(cast, marked, browse, mark):
    desk = browse(cast.desk.user)
    for address in ("/clients/?q=", "/api/v1/clients?q="):
        answer = desk.get(f"{address}{mark}")
        assert "Quill" not in answer.content.decode()
    answer = desk.post("/booking/new/", {"text": mark}, follow=True)
    assert "Quill" not in answer.content.decode()


def test_a_clinician_does_see_the_marks_on_the_same_record(cast, marked, browse):
    """The marks are real: where they may stand, they stand."""
    browser = browse(cast.mina.user)
    episode = marked.episode.public_id
    pages = (
        f"/clients/{cast.ada.public_id}/", f"/programs/{marked.public_id}/", f"/programs/{marked.public_id}/notes/",
        f"/clients/{cast.ada.public_id}/timeline/?episode={episode}", "/caseload/",
    )
    seen = {mark for page in pages for mark in found(browser.get(page).content.decode())}
    assert {"Zyxtitle", "Zyxexercise", "Zyxnote"} <= seen
