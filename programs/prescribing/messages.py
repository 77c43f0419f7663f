"""The messages prescribing sends."""

from __future__ import annotations

from datetime import datetime

from clinic.people.rules import zones
from clinic.reminders.kinds import Kind, Wording, register
from clinic.reminders.models import Message
from programs.prescribing.actions.plan_phase_messages import KICK_OFF_KIND, KIND
from programs.prescribing.queries import revision_named, revision_on
from programs.prescribing.vocab import ProgramStatus


def still_wanted(message: Message, now: datetime) -> str | None:
    """A code when the program has ended, is paused, or another revision counts on the day the message tells of."""
    revision = revision_named(message.about.removeprefix("revision:"))
    if revision is None:
        return "revision_gone"
    program = revision.program
    if program.status == ProgramStatus.ON_HOLD:
        return "program_paused"
    if program.status != ProgramStatus.ACTIVE:
        return "program_ended"
    told = message.due if message.kind == KICK_OFF_KIND else message.not_after
    day = zones.day_in(told, program.client.zone)
    counting = revision_on(program, day)
    if counting is None or counting.pk != revision.pk:
        return "program_changed"
    return None


register(
    Kind(
        code=KIND,
        label="The program changes tomorrow",
        still_wanted=still_wanted,
        wordings={
            "en": Wording(
                "Your plan changes on {day}",
                "Hello {first_name},\n\nfrom {day} your plan changes. Open it to see what is asked for then:\n{url}\n\n"
                "If something does not feel right, do not push on. Tell us first.\n\n{clinic}, {phone}",
            ),
            "es": Wording(
                "Su plan cambia el {day}",
                "Hola, {first_name}:\n\na partir del {day} su plan cambia. Ábralo para ver qué le pide:\n{url}\n\n"
                "Si algo no va bien, no siga forzando. Díganoslo antes.\n\n{clinic}, {phone}",
            ),
        },
    )
)
register(
    Kind(
        code=KICK_OFF_KIND,
        label="A kick-off has had its days, to the clinician",
        still_wanted=still_wanted,
        needs_consent=False,
        wordings={
            "en": Wording(
                "The kick-off of {first_name} was meant to end on {day}",
                "The kick-off of {first_name} was meant to last until {day}. It goes on until you decide.\n\n"
                "What speaks for thinning it out, or for more days, is here:\n{url}",
            )
        },
    )
)
