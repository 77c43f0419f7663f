"""The messages about visits: their wording, and the check just before one is sent."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from clinic.booking.away import move_of
from clinic.booking.invitations import appointment_of, invitation, invitations
from clinic.booking.queries import appointments_named
from clinic.booking.vocab import AppointmentStatus, MoveState
from clinic.reminders.kinds import Kind, Wording, register

COMING = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)


def look_up(messages: Sequence[Any]) -> Mapping[str, Any]:
    """The visits of all these messages."""
    return appointments_named(message.about for message in messages)


def still_as_told(message: Any, now: datetime) -> str | None:
    """None while the visit stands as the message says; else gone, cancelled, moved, started or not_coming."""
    appointment = appointment_of(message)
    if appointment is None:
        return "gone"
    if appointment.status == AppointmentStatus.CANCELLED:
        return "cancelled"
    if str(appointment.version) != message.dedup_key.rpartition(":")[2]:
        return "moved"
    if appointment.starts <= now:
        return "started"
    return None if appointment.status in COMING else "not_coming"


def still_cancelled(message: Any, now: datetime) -> str | None:
    """None while the visit is cancelled and its time not yet over."""
    appointment = appointment_of(message)
    if appointment is None:
        return "gone"
    if appointment.status != AppointmentStatus.CANCELLED:
        return "booked_again"
    return "started" if appointment.starts <= now else None


def still_asked(message: Any, now: datetime) -> str | None:
    """None while the client is still asked about that time; else gone, answered, withdrawn, moved or started."""
    move = move_of(message.about)
    if move is None:
        return "gone"
    if move.away.withdrawn_at is not None:
        return "withdrawn"
    if move.state != MoveState.ASKED:
        return "answered"
    if move.starts is None or not message.dedup_key.endswith(move.starts.isoformat()):
        return "moved"
    return "started" if move.starts <= now else None


VISIT_MOVE_ASKED = {
    "en": Wording(
        "Would {day} at {time} suit you?",
        "Hello {first_name},\n\nyour visit at {clinic} cannot be as we had agreed. Would {day} at {time} suit you?\n"
        "Please say yes or no here: {url}\nor call {phone}. We do not move your visit before we have your answer.\n",
    ),
    "es": Wording(
        "¿Le viene bien el {day} a las {time}?",
        "Hola, {first_name}:\n\nSu visita en {clinic} no puede ser como acordamos. ¿Le va bien el {day} a las {time}?\n"
        "Díganos sí o no aquí: {url}\no llame al {phone}. No cambiaremos su visita hasta tener su respuesta.\n",
    ),
}


def still_held(message: Any, now: datetime) -> str | None:
    """None while the hour is held for an answer."""
    appointment = appointment_of(message)
    if appointment is None:
        return "gone"
    if appointment.starts <= now:
        return "started"
    return None if appointment.status == AppointmentStatus.PENDING else "not_held"


VISIT_BOOKED = {
    "en": Wording(
        "Your visit on {day} at {time}",
        "Hello {first_name},\n\nyour visit at {clinic} is booked for {day} at {time}.\n"
        "If that does not suit you, please call {phone}.\n",
    ),
    "es": Wording(
        "Su visita del {day} a las {time}",
        "Hola, {first_name}:\n\nSu visita en {clinic} queda reservada para el {day} a las {time}.\n"
        "Si no le viene bien, llame al {phone}.\n",
    ),
}
VISIT_SET_ASIDE = {
    "en": Wording(
        "Would {day} at {time} suit you?",
        "Hello {first_name},\n\nit is time to look together how you are getting on. {clinic} has set {day} at {time} "
        "aside for you.\nPlease say yes or no here: {url}\nor call {phone}.\n",
    ),
    "es": Wording(
        "¿Le viene bien el {day} a las {time}?",
        "Hola, {first_name}:\n\nEs hora de ver cómo va todo. En {clinic} le hemos guardado el {day} a las {time}.\n"
        "Díganos sí o no aquí: {url}\no llame al {phone}.\n",
    ),
}
VISIT_OFFERED = {
    "en": Wording(
        "A time has become free: {day} at {time}",
        "Hello {first_name},\n\na time at {clinic} has become free: {day} at {time}. It is held for you for a short while.\n"
        "Say yes or no here: {url}\nor call {phone}. Without an answer somebody else is asked.\n",
    ),
    "es": Wording(
        "Ha quedado libre una hora: {day} a las {time}",
        "Hola, {first_name}:\n\nEn {clinic} ha quedado libre el {day} a las {time}. Le guardamos la hora por poco tiempo.\n"
        "Diga sí o no aquí: {url}\no llame al {phone}. Si no responde, se la ofreceremos a otra persona.\n",
    ),
}
VISITS_BOOKED = {
    "en": Wording(
        "Your visits from {day} on",
        "Hello {first_name},\n\nseveral visits at {clinic} are booked for you; the first is on {day} at {time}.\n"
        "You see all of them at {url}\nIf one does not suit you, please call {phone}.\n",
    ),
    "es": Wording(
        "Sus visitas a partir del {day}",
        "Hola, {first_name}:\n\nTiene varias visitas reservadas en {clinic}; la primera es el {day} a las {time}.\n"
        "Puede verlas todas en {url}\nSi alguna no le viene bien, llame al {phone}.\n",
    ),
}
VISIT_REMINDER = {
    "en": Wording(
        "A reminder: {day} at {time}",
        "Hello {first_name},\n\nwe expect you at {clinic} on {day} at {time}.\n"
        "If you cannot come, please call {phone}, so that someone else can have the time.\n",
    ),
    "es": Wording(
        "Recordatorio: {day} a las {time}",
        "Hola, {first_name}:\n\nLe esperamos en {clinic} el {day} a las {time}.\n"
        "Si no puede venir, llame al {phone} para que otra persona aproveche la hora.\n",
    ),
}
VISIT_MOVED = {
    "en": Wording(
        "Your visit is now on {day} at {time}",
        "Hello {first_name},\n\nyour visit at {clinic} has a new time: {day} at {time}.\n"
        "If that does not suit you, please call {phone}.\n",
    ),
    "es": Wording(
        "Su visita es ahora el {day} a las {time}",
        "Hola, {first_name}:\n\nSu visita en {clinic} tiene nueva hora: {day} a las {time}.\n"
        "Si no le viene bien, llame al {phone}.\n",
    ),
}
VISIT_CANCELLED = {
    "en": Wording(
        "Your visit on {day} is cancelled",
        "Hello {first_name},\n\nyour visit at {clinic} on {day} at {time} is cancelled.\n"
        "To find another time, please call {phone}.\n",
    ),
    "es": Wording(
        "Su visita del {day} queda cancelada",
        "Hola, {first_name}:\n\nSu visita en {clinic} del {day} a las {time} queda cancelada.\n"
        "Para buscar otra hora, llame al {phone}.\n",
    ),
}


def register_kinds() -> None:
    """Make the kinds known to the outbox; called once when Django starts."""
    still: Callable[[Any, datetime], str | None] = still_as_told
    register(Kind("visit_booked", "Visit booked", VISIT_BOOKED, still, attach=invitation, look_up=look_up))
    register(Kind("visit_offered", "A free time offered", VISIT_OFFERED, still_held, look_up=look_up))
    register(Kind("visit_set_aside", "A time set aside", VISIT_SET_ASIDE, still_held, look_up=look_up))
    register(Kind("visits_booked", "Several visits booked", VISITS_BOOKED, still, attach=invitations, look_up=look_up))
    register(Kind("visit_reminder", "Visit reminder", VISIT_REMINDER, still, look_up=look_up))
    register(Kind("visit_moved", "Visit moved", VISIT_MOVED, still, attach=invitation, look_up=look_up))
    cancelled = still_cancelled
    register(Kind("visit_cancelled", "Visit cancelled", VISIT_CANCELLED, cancelled, attach=invitation, look_up=look_up))
    register(Kind("visit_move_asked", "New time proposed", VISIT_MOVE_ASKED, still_asked))
