"""Screening before a program: what is asked and kept, and what stands in the way of prescribing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.record_screening import record_screening
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Program, Revision, Screening, ScreeningOverride
from programs.prescribing.rules.screening import Answers, gate

TODAY = date(2026, 3, 2)
FINE = Answers(TODAY, True, False, False, False)
REASON = "Seen by her own doctor yesterday."


@pytest.mark.parametrize(("answers", "code"), [
    (None, "not_asked"), (FINE, "open"), (replace(FINE, day=TODAY - timedelta(days=365)), "open"),
    (replace(FINE, day=TODAY - timedelta(days=366)), "too_old"), (replace(FINE, red_flags=True), "red_flags"),
    (replace(FINE, active=False, disease=True), "clear_first"), (replace(FINE, signs=True), "stop_and_clear"),
    (replace(FINE, signs=True, red_flags=True), "red_flags"),
    (replace(FINE, signs=True, red_flags=True, cleared_on=TODAY), "red_flags"),   # a clearance answers no red flag
])
def test_what_the_newest_screening_says(answers, code):
    assert gate(answers, TODAY, 365).code == code


@pytest.fixture
def ask(cast, now):
    """ask(red_flags=[…], …) -> Ada's newest screening, by Mina, now; nothing else is answered with yes."""

    def asked(at=now, **answers):
        plain = {"active": False, "intensity": "light_moderate", "diseases": [], "signs": [], "red_flags": []}
        return record_screening(by=cast.mina.user, client=cast.ada, now=at, **plain | answers)

    return asked


@pytest.fixture
def give(cast, library, plan, now):
    """give(screening_reason=…) -> Ada's program."""
    return lambda at=now, **more: prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip start", starts=at.date(), now=at, **more
    )


def test_it_is_kept_with_the_day_and_who_asked(cast, ask, now):
    row = ask(diseases=["renal", "renal"], note=" Once a year at the clinic. ")
    assert (row.day, row.asked_by, row.diseases, row.note) == (
        now.date(), cast.mina.user, ["renal"], "Once a year at the clinic."
    )
    assert AuditEvent.objects.get(verb="record_screening").record == f"screening:{row.public_id}"
    with pytest.raises(TypeError):
        row.save()


@pytest.mark.parametrize(("answers", "field"), [
    ({"diseases": ["gout"]}, "diseases"), ({"signs": ["gout"]}, "signs"), ({"red_flags": ["gout"]}, "red_flags"),
    ({"intensity": "mild"}, "intensity"), ({"cleared_on": TODAY + timedelta(days=1)}, "cleared_on"),
    ({"note": "x" * 301}, "note"),
])
def test_an_answer_nobody_knows_is_refused_and_nothing_is_kept(cast, ask, answers, field):
    before = Screening.objects.count()
    with pytest.raises(Refusal) as refused:
        ask(**answers)
    assert set(refused.value.fields) == {field}
    assert Screening.objects.count() == before


@pytest.mark.parametrize(("answers", "code", "words"), [
    ({"red_flags": ["night_pain"]}, "red_flags", "pain at night that no position eases"),
    ({"red_flags": ["calf_swelling"]}, "red_flags", "Get medical help today"),
    ({"diseases": ["renal"]}, "clear_first", "clear this client before light to moderate exercise: kidney disease"),
    ({"active": True, "signs": ["faint"]}, "stop_and_clear", "should stop exercising until a doctor has cleared it"),
])
def test_an_answer_that_speaks_against_it_stops_a_program_until_a_reason_is_written(give, ask, answers, code, words):
    ask(**answers)
    with pytest.raises(Refusal) as refused:
        give()
    assert (refused.value.code, refused.value.numbers["gate"]) == ("screening", code)
    assert words in refused.value.sentence
    assert not Program.objects.exists()
    with pytest.raises(Refusal) as too_short:
        give(screening_reason="It is ok")
    assert "10 to 300 characters" in too_short.value.fields["screening_reason"]
    program = give(screening_reason=REASON)
    kept = ScreeningOverride.objects.get()
    assert (kept.program, kept.code, kept.reason, kept.by) == (program, code, REASON, program.clinician.user)
    event = AuditEvent.objects.get(verb="override_screening")
    assert event.detail == {"gate": code}   # never the words


def test_an_old_screening_and_a_missing_one_say_so(give, cast, now, settings):
    settings.SCREENING_DAYS = 30
    with pytest.raises(Refusal) as old:
        give(at=now + timedelta(days=31))
    assert "The last screening, of 2 March 2026, is more than 30 days old." in old.value.sentence
    with pytest.raises(Refusal) as missing:
        give(at=now - timedelta(days=1))
    assert missing.value.sentence.startswith("This client has not been screened yet. Ask the questions")
    assert give(at=now + timedelta(days=30)).screening_overrides.count() == 0


def test_a_clearance_opens_the_way(give, ask, now):
    ask(diseases=["metabolic"], cleared_on=now.date())
    assert give().screening_overrides.count() == 0


def test_a_program_brought_over_runs_already(give, cast, now):
    assert give(at=now - timedelta(days=10), external_ref="P-17").pk


def test_a_running_program_goes_on_and_asks_once_about_an_answer_against_it(cast, give, ask, plan, now, settings):
    program = give()
    settings.SCREENING_DAYS = 3
    later = now + timedelta(days=10)

    def change(based_on, **more):
        anew = replace(plan, anchor=later.date())
        return revise_program(
            by=cast.mina.user, program=program, plan=anew, effective_from=later.date(), reason="Anew", based_on=based_on,
            now=later, **more,
        )

    assert change(1).number == 2   # too old a screening does not stop what runs
    ask(at=later, red_flags=["fever"])
    with pytest.raises(Refusal) as refused:
        change(2)
    assert refused.value.code == "screening"
    assert Revision.objects.filter(program=program).count() == 2
    assert change(2, screening_reason=REASON).number == 3
    assert change(3).number == 4   # decided; not asked again
    ask(at=later, red_flags=["fever", "weight_loss"])
    with pytest.raises(Refusal):
        change(4)
