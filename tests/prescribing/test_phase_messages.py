from datetime import UTC, date, datetime, timedelta

import pytest

from clinic.reminders.kinds import kind
from clinic.reminders.models import Message
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.plan_phase_messages import plan_phase_messages
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.rules.plan import from_phase


@pytest.fixture
def dated(cast, library, by_date, now):
    """Ada's program whose kick-off ends by date: the taper begins on 9 March, maintenance on 23 March."""
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=by_date, title="Hip start", starts=now.date(), now=now
    )


def phase_messages():
    return list(Message.objects.filter(kind="phase_change").order_by("due"))


def wanted(message, at):
    return kind("phase_change").still_wanted(message, at)


def test_each_thinner_phase_is_told_the_evening_before(dated, cast):
    taper, maintenance = phase_messages()
    assert (taper.client, taper.due) == (cast.ada, datetime(2026, 3, 8, 18, tzinfo=UTC))
    assert maintenance.due == datetime(2026, 3, 22, 18, tzinfo=UTC)
    assert taper.values == {"first_name": "Ada", "day": "Monday 9 March"}
    assert taper.not_after == datetime(2026, 3, 9, 12, tzinfo=UTC)


def test_the_evening_is_the_client_s_and_so_is_the_language(cast, library, by_date, now):
    cast.ada.zone, cast.ada.language = "America/New_York", "es"
    cast.ada.save()
    prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=by_date, title="Cadera", starts=date(2026, 3, 2), now=now
    )
    taper = phase_messages()[0]
    # 8 March 2026 is the day of New York's spring change: 18:00 is UTC-4
    assert taper.due == datetime(2026, 3, 8, 22, tzinfo=UTC)
    assert taper.values["day"] == "lunes 9 de marzo"


def test_nothing_is_promised_past_a_decision_that_is_open(program):
    assert phase_messages() == []


def test_a_kick_off_that_waits_for_a_decision_is_told_to_the_clinician_on_its_last_day(program, plan, cast, now):
    ending = Message.objects.get(kind="kick_off_end")
    assert (ending.staff, ending.client) == (cast.mina, None)
    assert ending.due == datetime(2026, 3, 8, 8, tzinfo=UTC)   # seven days from the second of March
    assert ending.values == {"first_name": "Ada", "day": "8 March", "url": "/suggestions/"}
    assert wanted(ending, ending.due) is None
    revise_program(
        by=cast.mina.user, program=program, plan=from_phase(plan, 2, date(2026, 3, 6)), effective_from=date(2026, 3, 6),
        reason="Taper", based_on=1, now=now,
    )
    assert wanted(ending, ending.due) == "program_changed"
    assert Message.objects.filter(kind="kick_off_end").count() == 1


def test_a_kick_off_that_ends_by_date_needs_no_decision(dated):
    assert not Message.objects.filter(kind="kick_off_end").exists()


def test_planning_again_adds_nothing(dated, cast, now):
    assert plan_phase_messages(by=cast.mina.user, program=dated, now=now) == []
    assert len(phase_messages()) == 2


def test_a_message_is_wanted_while_its_revision_counts(dated, by_date, cast, now):
    taper = phase_messages()[0]
    assert wanted(taper, taper.due) is None
    longer = from_phase(by_date, 1, now.date())
    revise_program(
        by=cast.mina.user, program=dated, plan=longer, effective_from=now.date() + timedelta(1), reason="Another week",
        based_on=1, now=now,
    )
    assert wanted(taper, taper.due) == "program_changed"
    newest = [message for message in phase_messages() if message.about != taper.about]
    assert [wanted(message, message.due) for message in newest] == [None, None]


def test_a_change_that_counts_after_the_message_s_day_leaves_it_wanted(dated, by_date, cast, now):
    revise_program(
        by=cast.mina.user, program=dated, plan=by_date, effective_from=date(2026, 3, 15), reason="Later on",
        based_on=1, now=now,
    )
    taper = phase_messages()[0]
    assert wanted(taper, taper.due) is None


def test_not_while_paused_and_not_after_the_end(dated, cast, now):
    taper = phase_messages()[0]
    pause_program(by=cast.mina.user, program=dated, reason="Flu", now=now)
    assert wanted(taper, taper.due) == "program_paused"
    end_program(by=cast.mina.user, program=dated, status="revoked", now=now)
    assert wanted(taper, taper.due) == "program_ended"


def test_moving_on_tomorrow_is_told_at_once_when_the_evening_has_begun(program, plan, cast, now):
    evening = now.replace(hour=19)
    tomorrow = now.date() + timedelta(1)
    revise_program(
        by=cast.mina.user, program=program, plan=from_phase(plan, 2, tomorrow), effective_from=tomorrow,
        reason="Taper", based_on=1, now=evening,
    )
    assert phase_messages()[0].due == evening
    assert phase_messages()[0].values["day"] == "Tuesday 3 March"


def test_moving_on_today_needs_no_message(program, plan, cast, now):
    revise_program(
        by=cast.mina.user, program=program, plan=from_phase(plan, 2, now.date()), effective_from=now.date(),
        reason="Taper", based_on=1, now=now,
    )
    assert [message.values["day"] for message in phase_messages()] == ["Monday 16 March"]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_wording_has_both_languages_and_only_known_placeholders(language):
    wording = kind("phase_change").wordings[language]
    filled = dict.fromkeys(("first_name", "time", "day", "clinic", "phone", "url"), "X")
    assert "X" in wording.subject.format(**filled)
    assert wording.body.format(**filled).count("X") == 5
