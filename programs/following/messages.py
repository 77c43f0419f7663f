"""What following sends: a first name and a time, nothing of any answer or note."""

from __future__ import annotations

from datetime import datetime

from clinic.people.rules import zones
from clinic.reminders.kinds import Kind, Wording, register
from clinic.reminders.models import Message
from programs.following.actions.plan_nudges import KIND as DAY_NUDGE
from programs.following.actions.write_note import KIND as NOTE_WAITING
from programs.following.notes import note_waits
from programs.following.nudging import day_of, spoken_against
from programs.following.queries import alert_named, state_named
from programs.following.vocab import Band
from programs.prescribing.vocab import ProgramStatus


def alert_still_open(message: Message, now: datetime) -> str | None:
    """A code when a clinician has closed the alert meanwhile."""
    alert = alert_named(message.about.removeprefix("alert:"))
    if alert is None:
        return "alert_gone"
    return "alert_closed" if alert.closed_at is not None else None


def still_silent(message: Message, now: datetime) -> str | None:
    """A code when the client has logged meanwhile, or the program is no longer followed."""
    state = state_named(message.about.removeprefix("program:"))
    if state is None or state.program.status != ProgramStatus.ACTIVE:
        return "program_ended"
    return None if state.band == Band.SILENT else "heard_from"


def note_still_waits(message: Message, now: datetime) -> str | None:
    """A code when the client has read every note meanwhile."""
    return None if note_waits(message.about.removeprefix("program:")) else "note_read"


def day_still_asks(message: Message, now: datetime) -> str | None:
    """A code when the wish has ended, the day is over, asks for nothing, has a log, or a red-flag answer is open."""
    if message.client is None or zones.day_in(now, message.client.zone) != day_of(message.about):
        return "day_over"
    found = message.found if message.looked_up else spoken_against([message])[message.about]
    return found or None


register(
    Kind(
        code="red_flag",
        label="A client answered that something may be seriously wrong",
        still_wanted=alert_still_open,
        needs_consent=False,
        respects_quiet_hours=False,
        wordings={
            "en": Wording(
                "{first_name} needs a call now",
                "{first_name} gave an answer at {time} that asks for a person at once.\n\n"
                "Call. Then open the list of alerts:\n{url}\n\nIt stays open until a clinician closes it.",
            )
        },
    )
)
register(
    Kind(
        code="client_silent",
        label="No log received for some days",
        still_wanted=still_silent,
        needs_consent=False,
        wordings={
            "en": Wording(
                "Nothing received from {first_name} since {day}",
                "No session of {first_name} has reached us since {day}.\n\n"
                "They may be doing the program and not logging it. A call would tell. The suggestion is here:\n{url}",
            )
        },
    )
)
register(
    Kind(
        code=NOTE_WAITING,
        label="A note from the clinician waits",
        still_wanted=note_still_waits,
        wordings={
            "en": Wording(
                "There is a note for you",
                "Hello {first_name},\n\nyour clinician has written you a note. Read it here:\n{url}\n\n"
                "If something is urgent, do not write. Ring us.\n\n{clinic}, {phone}",
            ),
            "es": Wording(
                "Tiene una nota",
                "Hola, {first_name}:\n\nsu terapeuta le ha escrito una nota. Léala aquí:\n{url}\n\n"
                "Si es urgente, no escriba: llámenos.\n\n{clinic}, {phone}",
            ),
        },
    )
)
register(
    Kind(
        code=DAY_NUDGE,
        label="A reminder of the day's session, as the client wished",
        still_wanted=day_still_asks,
        look_up=spoken_against,
        wordings={
            "en": Wording(
                "A session is on your plan for today",
                "Hello {first_name},\n\nyou asked for a reminder at {time} on days with a session. Today is one:\n{url}\n\n"
                "If something does not feel right, leave it out and tell us.\n"
                "You can stop these reminders under Reminders on your pages.\n\n{clinic}, {phone}",
            ),
            "es": Wording(
                "Hoy hay una sesión en su plan",
                "Hola, {first_name}:\n\npidió un recordatorio a las {time} los días con sesión. Hoy es uno:\n{url}\n\n"
                "Si algo no va bien, no haga la sesión y díganoslo.\n"
                "Puede dejar de recibir estos avisos en sus páginas, en Recordatorios.\n\n{clinic}, {phone}",
            ),
        },
    )
)
