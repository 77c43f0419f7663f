"""What must be true of a booking before it is tried: whose, with whom, where, and the words beside it."""

from __future__ import annotations

from datetime import date

from clinic.booking.models import Room, VisitType
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import Client, Episode, Site, Staff
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role


def check_people(
    client: Client, clinician: Staff, room: Room | None, visit_type: VisitType, episode: Episode | None,
    *, archived: bool = False, active: bool = True, here: bool | None = None,
) -> None:
    """Refusal `client_archived` (409), or `invalid` (400) with the fields.

    `here`: whether the clinician works at the client's site, where that is known already. `archived` lets an archived client
    through, `active=False` a clinician who has left: visits of the past have both.
    """
    if client.archived and not archived:
        raise Refusal("client_archived", "This client is archived. Bring the record back before booking.", status=409)
    wrong: dict[str, str] = {}
    if here is None:
        here = clinician.sites.filter(pk=client.site_id).exists()
    if clinician.user.role != Role.CLINICIAN or not here or (active and not clinician.user.is_active):
        wrong["clinician"] = "Choose a clinician who works at the client's site."
    if room is not None and room.site_id != client.site_id:
        wrong["room"] = "Choose a room at the client's site."
    elif room is not None and not set(visit_type.room_features) <= set(room.features):
        wrong["room"] = f"{room.name} does not have what a {visit_type.name.lower()} needs."
    if episode is not None and episode.client_id != client.pk:
        wrong["episode"] = "That episode belongs to somebody else."
    _refuse(wrong)


def check_group(
    visit_type: VisitType, clinician: Staff, site: Site, room: Room | None, weeks: int, most: int
) -> None:
    """Refusal `invalid` (400) with the fields for a group that cannot be."""
    wrong: dict[str, str] = {}
    if not visit_type.is_group:
        wrong["visit_type"] = f"A {visit_type.name.lower()} is for one client. Choose a kind of visit with several places."
    user, here = clinician.user, clinician.sites.filter(pk=site.pk).exists()
    if not here or user.role != Role.CLINICIAN or not user.is_active:
        wrong["clinician"] = "Choose a clinician who works at the site."
    if room is not None and (room.site_id != site.pk or not set(visit_type.room_features) <= set(room.features)):
        wrong["room"] = f"{room.name} does not have what a {visit_type.name.lower()} needs."
    if not 1 <= weeks <= most:
        wrong["weeks"] = f"Choose 1 to {most} weeks."
    _refuse(wrong)


def check_words(note: str, external_ref: str, earliest: date | None, latest: date | None) -> None:
    """Refusal `invalid` (400) naming the fields that are too long or contradict one another."""
    wrong: dict[str, str] = {}
    if len(note.strip()) > 200 or "\x00" in note:
        wrong["note"] = "A note can have 200 characters at most."
    if len(external_ref) > 64 or "\x00" in external_ref:
        wrong["external_ref"] = "A number can have 64 characters at most."
    if earliest and latest and latest < earliest:
        wrong["due_latest"] = "The window closes before it opens."
    _refuse(wrong)


def check_known(status: str, minutes: int | None) -> None:
    """Refusal `invalid` (400) for a status that is none of FHIR's ten, or a length that no visit has."""
    wrong: dict[str, str] = {}
    if status not in AppointmentStatus.values:
        wrong["status"] = f"{status[:40]!r} is not a status of a visit."
    if minutes is not None and not 1 <= minutes <= 480:
        wrong["minutes"] = "A visit lasts 1 to 480 minutes."
    _refuse(wrong)


def _refuse(wrong: dict[str, str]) -> None:
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
