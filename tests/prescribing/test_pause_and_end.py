from datetime import timedelta

import pytest

from clinic.people.refusal import Refusal
from clinic.visits.models import Reassessment
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.resume_program import resume_program
from programs.prescribing.queries import pauses_of
from programs.prescribing.signals import program_changed


@pytest.fixture
def told():
    heard = []

    def receiver(sender, program, **rest):
        heard.append(program.status)

    program_changed.connect(receiver, weak=False)
    yield heard
    program_changed.disconnect(receiver)


def test_a_pause_holds_from_today_until_the_day_it_goes_on(cast, program, now, told):
    pause_program(by=cast.mina.user, program=program, reason="Flu", now=now)
    program.refresh_from_db()
    assert program.status == "on-hold"
    resume_program(by=cast.mina.user, program=program, now=now + timedelta(3))
    program.refresh_from_db()
    assert program.status == "active"
    assert [(pause.first, pause.until) for pause in pauses_of(program)] == [
        (now.date(), now.date() + timedelta(3))
    ]
    assert told == ["on-hold", "active"]


def test_pausing_twice_going_on_twice_and_pausing_without_a_reason_are_refused(cast, program, now):
    with pytest.raises(Refusal) as refused:
        pause_program(by=cast.mina.user, program=program, reason=" ", now=now)
    assert set(refused.value.fields) == {"reason"}
    with pytest.raises(Refusal, match="not paused"):
        resume_program(by=cast.mina.user, program=program, now=now)
    pause_program(by=cast.mina.user, program=program, reason="Flu", now=now)
    with pytest.raises(Refusal, match="being followed"):
        pause_program(by=cast.mina.user, program=program, reason="Flu", now=now)


def test_an_end_closes_the_pause_and_withdraws_the_reassessment(cast, program, now, told):
    pause_program(by=cast.mina.user, program=program, reason="Flu", now=now)
    end_program(by=cast.mina.user, program=program, status="revoked", now=now + timedelta(2))
    program.refresh_from_db()
    assert (program.status, program.ended) == ("revoked", now.date() + timedelta(2))
    assert pauses_of(program)[0].until == now.date() + timedelta(2)
    assert Reassessment.objects.get(episode=cast.ada_hip).status == "withdrawn"
    assert told == ["on-hold", "revoked"]


def test_an_end_has_two_names_and_happens_once(cast, program, now):
    with pytest.raises(Refusal) as refused:
        end_program(by=cast.mina.user, program=program, status="active", now=now)
    assert refused.value.status == 400
    end_program(by=cast.mina.user, program=program, status="completed", now=now)
    with pytest.raises(Refusal) as refused:
        end_program(by=cast.mina.user, program=program, status="completed", now=now)
    assert refused.value.code == "not_open"


def test_a_program_that_has_not_begun_ends_on_its_first_day(cast, library, plan, now):
    later = prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Later", starts=now.date() + timedelta(5), now=now
    )
    assert end_program(by=cast.mina.user, program=later, status="revoked", now=now).ended == later.starts


def test_after_an_end_the_episode_may_have_another(cast, program, plan, now):
    end_program(by=cast.mina.user, program=program, status="completed", now=now)
    again = prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Again", starts=now.date(), now=now
    )
    assert again.status == "active"
