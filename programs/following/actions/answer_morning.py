"""Take in how much it hurt the morning after a session."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.following.actions.follow_program import follow_program
from programs.following.models import MorningAnswer
from programs.following.queries import today_of
from programs.following.recent import Written
from programs.following.rules.entry import SCALE, day_problem
from programs.prescribing.models import Program
from programs.prescribing.queries import locked
from programs.prescribing.versions import versions_of


@transaction.atomic
def answer_morning(
    *, by: User, program: Program, answer_id: UUID, day: date, pain: int, now: datetime
) -> MorningAnswer:
    """Once per `answer_id`; `day` is the day of the session. A second answer for a day is a new row, and the newest counts.

    Refusal `invalid` (400) names the fields; `answer_id_taken` (409) when the id belongs to another program.
    """
    program = locked(program, "client")
    held = MorningAnswer.objects.filter(answer_id=answer_id).first()
    if held is not None:
        if held.program_id != program.pk:
            raise _taken()
        return held
    wrong = {}
    if not SCALE[0] <= pain <= SCALE[1]:
        wrong["pain"] = f"The scale goes from 0 to 10, not {pain}."
    today = today_of(program, now)
    if day_problem(day, starts=program.starts, ended=program.ended, today=today) or day > today:
        wrong["day"] = "The day is not one of this program's days so far."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    try:
        with transaction.atomic():
            row = MorningAnswer.objects.create(
                answer_id=answer_id, program=program, day=day, pain=pain, received=now, by=by
            )
    except IntegrityError as error:
        raise _taken() from error
    audit.record(
        by=by, verb="answer_morning", kind="morning", public_id=answer_id, at=now, client=program.client
    )
    follow_program(program=program, now=now, written=Written({}, versions_of(program), frozenset({day})))
    return row


def _taken() -> Refusal:
    return Refusal("answer_id_taken", "This answer's number belongs to another answer.")
