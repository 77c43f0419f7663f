"""Give a client a home program."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import Episode, User
from clinic.people.queries import open_conditions
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus, Role
from programs.prescribing.actions.plan_kick_off_review import plan_kick_off_review
from programs.prescribing.actions.plan_phase_messages import plan_phase_messages
from programs.prescribing.actions.refuse_contraindicated import (
    contraindications,
    note_override,
    refuse_contraindicated,
)
from programs.prescribing.actions.refuse_unscreened import note_screening_override, refuse_unscreened
from programs.prescribing.actions.write_revision import MOST_REASON, refuse_bad_plan, write_revision
from programs.prescribing.models import Program
from programs.prescribing.queries import levels_named, open_program
from programs.prescribing.rules.plan import Plan
from programs.prescribing.screening import standing_of
from programs.prescribing.signals import program_changed
from programs.prescribing.vocab import ProgramStatus

MOST_TITLE = 80
FIRST_REASON = "First program"
FURTHEST_AHEAD = timedelta(days=180)
FURTHEST_BACK = timedelta(days=3660)   # programs brought over from another system


@transaction.atomic
def prescribe_program(
    *,
    by: User,
    episode: Episode,
    plan: Plan,
    title: str,
    starts: date,
    now: datetime,
    override_reason: str = "",
    screening_reason: str = "",
    external_ref: str = "",
) -> Program:
    """An active program with revision 1, effective and counting from `starts`.

    Refusal: `invalid` (400) names the fields, `episode_closed` and `already_open` (409), `screening` (409) when the client's
    screening is missing, too old or speaks against exercise and no `screening_reason` says why to go on, `contraindicated`
    (409) when a condition speaks against an item and no `override_reason` says why it is safe. A program brought over from
    another system (`external_ref`) runs already, so it is not screened for. All or nothing.
    """
    plan, override_reason, screening_reason = replace(plan, anchor=starts), override_reason.strip(), screening_reason.strip()
    levels, today = levels_named(plan), zones.day_in(now, episode.client.zone)
    refuse_bad_plan(plan, levels, _wrong(title, starts, override_reason, today))
    if episode.status != EpisodeStatus.ACTIVE or episode.client.archived:
        raise Refusal("episode_closed", "This episode is closed, so no program can be given in it.")
    if open_program(episode):
        raise _already_open()
    standing = None if external_ref else standing_of(episode.client, today)
    if standing:
        refuse_unscreened(standing, screening_reason)
    against = contraindications((item.exercise for item in plan.items), open_conditions(episode.client, today))
    refuse_contraindicated(against, override_reason)
    program = _create(by, episode, title.strip(), starts, now, external_ref)
    write_revision(
        by=by, program=program, plan=plan, levels=levels, number=1, effective_from=starts,
        reason=override_reason if against else FIRST_REASON, now=now,
    )
    note_override(by=by, program=program, against=against, now=now)
    if standing:
        note_screening_override(by=by, program=program, standing=standing, reason=screening_reason, now=now)
    audit.record(
        by=by, verb="prescribe_program", kind="program", public_id=program.public_id, at=now, client=program.client
    )
    plan_kick_off_review(by=by, program=program, plan=plan, now=now)
    plan_phase_messages(by=by, program=program, now=now)
    program_changed.send(sender=Program, program=program, now=now)
    return program


def _wrong(title: str, starts: date, override_reason: str, today: date) -> dict[str, str]:
    wrong = {}
    if not 1 <= len(title.strip()) <= MOST_TITLE:
        wrong["title"] = f"Give the program a title of 1 to {MOST_TITLE} characters."
    if starts > today + FURTHEST_AHEAD:
        wrong["starts"] = f"A program starts within {FURTHEST_AHEAD.days} days from today, not on {starts:%d %B %Y}."
    if starts < today - FURTHEST_BACK:
        wrong["starts"] = f"A program cannot have started on {starts:%d %B %Y}: that is too long ago."
    if len(override_reason) > MOST_REASON:
        wrong["override_reason"] = f"The reason can have {MOST_REASON} characters at most."
    return wrong


def _create(by: User, episode: Episode, title: str, starts: date, now: datetime, external_ref: str) -> Program:
    clinician = episode.lead
    if by.role == Role.CLINICIAN and hasattr(by, "staff"):
        clinician = by.staff
    try:
        with transaction.atomic():
            return Program.objects.create(
                client=episode.client, episode=episode, clinician=clinician, title=title, starts=starts,
                status=ProgramStatus.ACTIVE, created=now, external_ref=external_ref,
            )
    except IntegrityError as error:
        raise _already_open() from error


def _already_open() -> Refusal:
    return Refusal(
        "already_open", "This episode already has a program. Change that one, or end it before giving another."
    )
