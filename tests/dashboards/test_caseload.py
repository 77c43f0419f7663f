"""The caseload: whose lines, in which order, behind which filter, in how many queries."""

from datetime import timedelta

import pytest
import time_machine

from clinic.people.models import Client, Episode
from dashboards.read_models import caseload as model
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.raise_alert import raise_alert
from programs.following.ribbons import AFTER
from tests.dashboards.conftest import START


@pytest.fixture
def three(cast, program, report, give, later):
    """Ada in pain, Cy silent, Dee on track after six days; Bo has no program and is Theo's."""
    cy, dee = give("Cy"), give("Dee")
    for day in range(5):
        report(day, pain_during=7)
    from tests.dashboards.logs import log_days

    log_days(dee, 5)
    follow_programs(now=later(5))
    return program, cy, dee


def rows_at(entries, now):
    return model.rows_of(entries, now, now.date())


def names(entries, now):
    return [row.client for row in rows_at(entries, now)]


def test_whoever_needs_a_person_first_is_first(cast, three, later):
    entries = model.caseload(cast.mina.user, later(5).date())
    rows = rows_at(entries, later(5))
    assert [row.client for row in rows] == ["Ada Quill", "Cy Reed", "Dee Reed"]
    assert [[reason["code"] for reason in row.standing.reasons] for row in rows] == [["pain"], ["silent"], []]
    assert [row.standing.band for row in rows] == ["on_track", "silent", "on_track"]


def test_equal_attention_goes_by_name(cast, give, later):
    give("Zed"), give("Abe"), give("Mo")
    follow_programs(now=later(0))
    entries = model.caseload(cast.mina.user, later(0).date())
    assert names(entries, later(0))[:3] == ["Abe Reed", "Mo Reed", "Zed Reed"]


def test_an_episode_without_a_program_comes_last(cast, program, later):
    Episode.objects.create(client=cast.ada, lead=cast.mina, region="knee", complaint="Knee too", opened=START)
    rows = rows_at(model.caseload(cast.mina.user, later(0).date()), later(0))
    assert [(row.program, row.complaint) for row in rows] == [
        ("Hip", "Stiff left hip after sitting"), ("", "Knee too"),
    ]
    assert (rows[1].standing, rows[1].ribbon, rows[1].program_id) == (None, (), None)


def test_a_clinician_sees_their_own_and_the_lead_all_or_one(cast, three, later):
    now = later(5)
    assert names(model.caseload(cast.theo.user, now.date()), now) == ["Bo Marsh"]
    everybody = model.caseload(cast.lead.user, now.date())
    assert names(everybody, now) == ["Ada Quill", "Cy Reed", "Dee Reed", "Bo Marsh"]
    assert names(model.caseload(cast.lead.user, now.date(), cast.theo), now) == ["Bo Marsh"]
    assert model.caseload(cast.desk.user, now.date()) == []
    assert model.caseload(cast.ada.user, now.date()) == []


def test_the_archived_are_gone(cast, three, later):
    Client.objects.filter(pk=cast.ada.pk).update(archived=later(5))
    assert "Ada Quill" not in names(model.caseload(cast.mina.user, later(5).date()), later(5))


def test_filters_count_what_they_show(cast, three, later):
    now = later(30)
    follow_programs(now=now)
    entries = model.caseload(cast.mina.user, now.date())
    counts = model.counts(entries)
    assert counts["all"] == 3
    assert counts["silent"] == 3      # nobody has logged for weeks by then
    assert counts["overdue"] == 3     # and the end of every kick-off was not looked at
    for code in model.FILTERS:
        assert counts[code] == len([entry for entry in entries if code in entry.flags])


def test_each_filter_takes_who_it_names_and_leaves_the_next(cast, three, later):
    now = later(5)
    entries = model.caseload(cast.mina.user, now.date())

    def shown(code):
        return names([entry for entry in entries if code in entry.flags], now)

    assert shown("person") == ["Ada Quill", "Cy Reed"]
    assert shown("silent") == ["Cy Reed"]
    assert shown("pain") == ["Ada Quill"]
    assert "Cy Reed" in shown("suggestion")
    assert "Dee Reed" not in shown("person") + shown("silent") + shown("pain")
    assert shown("overdue") == []


def test_a_line_holds_what_it_should(cast, three, later):
    now = later(5)
    row = rows_at(model.caseload(cast.mina.user, now.date())[:1], now)[0]
    assert (row.standing.pain_last, row.standing.sessions_done, row.standing.sessions_prescribed) == (7, 5, 5)
    assert row.standing.low < 1 == row.standing.high
    assert len(row.ribbon) == 6 + AFTER                       # it began five days ago
    assert [day.day for day in row.ribbon if day.today] == [START + timedelta(days=5)]
    assert (row.reassessment.reason, row.visit, row.open_alerts) == ("kick_off_end", None, 0)


def test_an_open_red_flag_outranks_everything(cast, three, later):
    from uuid import uuid4

    raise_alert(by=three[1].client.user or cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=later(5))
    follow_programs(now=later(5))
    row = rows_at(model.caseload(cast.mina.user, later(5).date()), later(5))[0]
    assert (row.client, row.open_alerts, row.standing.reasons[0]["code"]) == ("Ada Quill", 1, "red_flag")


@pytest.mark.parametrize("count", [1, 3])
def test_the_number_of_queries_does_not_grow(cast, program, give, later, count, django_assert_num_queries):
    for index in range(count - 1):
        give(f"Client{index}")
    now = later(8)
    follow_programs(now=now)
    with django_assert_num_queries(2):
        entries = model.caseload(cast.mina.user, now.date())
    assert len(entries) == count
    with django_assert_num_queries(4):
        rows = rows_at(entries, now)
    assert all(row.suggestions for row in rows)    # silent: somebody should call


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_as_many_queries_for_three_as_for_one(
    cast, program, give, later, browse, count, django_assert_num_queries
):
    for index in range(count - 1):
        give(f"Client{index}")
    follow_programs(now=later(8))
    browser = browse(cast.mina.user)
    with time_machine.travel(later(8), tick=False):
        browser.get("/caseload/")
        with django_assert_num_queries(9):   # session, user, site; lines, bare episodes; programs, suggestions, looks, visits
            answer = browser.get("/caseload/")
    assert answer.content.decode().count("<ul class=\"reasons") == count
