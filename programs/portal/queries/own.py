"""The client's own programs, and the plans that were shown to them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from uuid import UUID

from clinic.people.models import Client, User
from clinic.people.queries import own_client
from clinic.people.refusal import NotThere
from clinic.people.rules.zones import day_in
from programs.following.models import Alert
from programs.following.queries import newest_rule_set
from programs.following.rules import ruleset
from programs.following.rules.adherence import Bands
from programs.following.rules.symptoms import Edges
from programs.portal.rules.days import stand_of
from programs.portal.vocab import Stand
from programs.prescribing.models import Pause, Program, Revision
from programs.prescribing.queries import pauses_of, programs_for, revisions_of
from programs.prescribing.rules.plan import DayPlan
from programs.prescribing.vocab import ProgramStatus

OPEN = (ProgramStatus.ACTIVE, ProgramStatus.ON_HOLD)
SHOWN = (*OPEN, ProgramStatus.COMPLETED, ProgramStatus.REVOKED)


def my_programs(client: Client, user: User) -> list[Program]:
    """The client's programs that were given to them, open ones first, the newest first."""
    rows = programs_for(user).filter(client=client, status__in=SHOWN).select_related("clinician")
    return sorted(rows, key=lambda row: row.status not in OPEN)


def chosen_program(user: User, public_id: UUID | str | None = None) -> tuple[Client, Program | None, list[Program]]:
    """(the client, the program asked for or their first, their other open ones). NotThere for a program not theirs."""
    client = own_client(user)
    programs = my_programs(client, user)
    if public_id is None:
        program = programs[0] if programs else None
    else:
        program = next((row for row in programs if str(row.public_id) == str(public_id)), None)
        if program is None:
            raise NotThere
    return client, program, [row for row in programs if row.status in OPEN and row != program]


def day_of(client: Client, now: datetime) -> date:
    """The calendar day where the client is."""
    return day_in(now, client.zone)


def where_they_stand(program: Program, asked: DayPlan | None, day: date) -> Stand:
    """Where the client stands with a program on a day; `asked` is None before its first."""
    return stand_with(program, pauses_of(program), asked, day)


def stand_with(program: Program, pauses: list[Pause], asked: DayPlan | None, day: date) -> Stand:
    """The same with the pauses at hand: no query."""
    paused = program.status == ProgramStatus.ON_HOLD or any(
        pause.first <= day and (pause.until is None or day < pause.until) for pause in pauses
    )
    return stand_of(open_now=program.status in OPEN, starts=program.starts, paused=paused, asked=asked, today=day)


def shown_revision(program: Program, public_id: UUID) -> Revision:
    """The revision a page showed, by its id: also an older one. NotThere when it is not of this program."""
    revision = revisions_of(program).filter(public_id=public_id).first()
    if revision is None:
        raise NotThere
    return revision


def programs_showing(user: User, revision_ids: Iterable[UUID]) -> dict[UUID, Program]:
    """The client's own programs by the public ids of the revisions they hold; those of nobody or others are absent."""
    mine = programs_for(user).filter(client=own_client(user))
    rows = Revision.objects.filter(public_id__in=set(revision_ids), program__in=mine)
    held: dict[int, Program] = {}
    return {
        row.public_id: held.setdefault(row.program_id, row.program)
        for row in rows.select_related("program__client__site", "program__episode", "program__clinician")
    }


def program_showing(user: User, revision_id: UUID) -> Program:
    """The client's own program that a revision belongs to. NotThere otherwise."""
    program = programs_showing(user, [revision_id]).get(revision_id)
    if program is None:
        raise NotThere
    return program


def open_alert(client: Client) -> Alert | None:
    """The newest red-flag answer of this client that no clinician has closed."""
    return Alert.objects.filter(client=client, closed_at__isnull=True).first()


def acceptable_pain() -> int:
    """The worst pain during a session that is still agreed to be fine, 0-10: by the practice's rule set."""
    row = newest_rule_set()
    return (ruleset.read(row.version, row.thresholds).edges if row else Edges()).acceptable_most


def bands() -> Bands:
    """The bands of adherence: by the practice's rule set."""
    row = newest_rule_set()
    return ruleset.read(row.version, row.thresholds).bands if row else Bands()
