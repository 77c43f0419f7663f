"""Doors and reads of prescribing. Programs are clinical: the front desk sees none of this."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from uuid import UUID

from django.db import connection
from django.db.models import Prefetch, Q, QuerySet

from clinic.people import looking
from clinic.people.models import Episode, User
from clinic.people.queries import clients_for, sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.library.models import Exercise, Level
from programs.library.queries import levels_of
from programs.library.rules.dose import Span, dose_from_json, dose_to_json
from programs.library.vocab import DoseSide
from programs.prescribing.models import Item, Pause, Program, Revision, Template
from programs.prescribing.rules.bits import from_bits
from programs.prescribing.rules.plan import SIDES_OF, TIMES, WEEKDAYS, ItemPlan, PhasePlan, Plan
from programs.prescribing.rules.plan_json import plan_from_json
from programs.prescribing.vocab import ProgramStatus

ANY_DAY = date(2000, 1, 3)   # a template has no first day; reading one needs a day
OPEN = (ProgramStatus.ACTIVE, ProgramStatus.ON_HOLD)


def programs_for(user: User) -> QuerySet[Program]:
    """Programs a person may see: a clinician and the lead those of their clients, a client their own; the desk none."""
    if user.role == Role.FRONT_DESK:
        return Program.objects.none()
    return Program.objects.filter(client__in=clients_for(user)).select_related("client__site", "episode", "clinician")


def program_for(user: User, public_id: UUID | str) -> Program:
    """One program the user may see."""
    program = programs_for(user).filter(public_id=public_id).select_related("episode__lead__user").first()
    if program is None:
        raise NotThere
    looking.note(user, program.client_id)
    return program


def programs_to_copy(user: User, text: str = "") -> QuerySet[Program]:
    """Programs whose plan a clinician may begin another from: those of their own clients, the newest first.

    Every word of `text` is in the program's title or the client's name.
    """
    rows = programs_for(user).filter(revisions__number=1).order_by("-starts", "-pk")
    for word in text.split():
        named = Q(client__given_name__icontains=word) | Q(client__family_name__icontains=word)
        rows = rows.filter(named | Q(title__icontains=word))
    return rows


def programs_where(user: User, client: UUID | None = None, status: str = "") -> QuerySet[Program]:
    """Programs the user may see, of one client and of one status where these are named."""
    rows = programs_for(user)
    if client is not None:
        rows = rows.filter(client__public_id=client)
    return rows.filter(status=status) if status else rows


def open_program(episode: Episode) -> Program | None:
    """The program of this episode that is being followed or paused; there is one at most."""
    return Program.objects.filter(episode=episode, status__in=OPEN).select_related("client__site", "clinician").first()


def revisions_of(program: Program) -> QuerySet[Revision]:
    """All revisions, oldest first, with what `plan_of` needs: three queries however many there are."""
    items = Item.objects.select_related("exercise", "level")
    return (
        Revision.objects.filter(program=program)
        .select_related("author__staff")
        .prefetch_related("phases", Prefetch("items", items))
        .order_by("number")
    )


def newest_revision(program: Program) -> Revision:
    """The last one written, whether or not its day has come. NotThere for a draft without any."""
    revision = revisions_of(program).last()
    if revision is None:
        raise NotThere
    return revision


def newest_revision_key(program: Program) -> int | None:
    """The key of the last one written; None for a draft without any."""
    return Revision.objects.filter(program=program).order_by("-number").values_list("pk", flat=True).first()


def revision_on(program: Program, day: date) -> Revision | None:
    """The revision that counts on `day`: the newest whose effective day has come; None before the first."""
    return revisions_of(program).filter(effective_from__lte=day).last()


def revision_named(public_id: str) -> Revision | None:
    """A revision with its program and client, for the outbox's check at send time."""
    return Revision.objects.filter(public_id=public_id).select_related("program__client").first()


def locked(program: Program, *related: str) -> Program:
    """The program's row, locked until the transaction ends: whoever changes a program waits here.

    `related` rows are read with it; without any, those that pages and changes of a program ask for.
    """
    if connection.features.has_select_for_update:   # SQLite's transaction holds the whole database already
        Program.objects.select_for_update().only("pk").get(pk=program.pk)
    return Program.objects.select_related(*(related or ("client__site", "episode", "clinician"))).get(pk=program.pk)


def plan_of(revision: Revision) -> Plan:
    """The plan a revision holds. No query when the revision comes from `revisions_of`, `revision_on` or `plans_of`."""
    return Plan(
        anchor=revision.anchor,
        phases=tuple(
            phase_of(
                phase.kind, phase.days, phase.sessions_minimum, phase.sessions_full, phase.days_per_week, phase.advance,
                phase.weekdays, phase.times,
            )
            for phase in revision.phases.all()
        ),
        items=tuple(
            ItemPlan(
                key=item.key, exercise=item.exercise.slug, level=item.level.number, dose=dose_from_json(item.dose),
                side=item.side, rounds=Span(item.rounds_minimum, item.rounds_full),   # type: ignore[arg-type]
                setup_seconds=item.exercise.setup_seconds, priority=item.priority, note=item.note,
                leeway=item.leeway or "none",   # type: ignore[arg-type]
            )
            for item in revision.items.all()
        ),
    )


def phase_of(
    kind: str, days: int | None, least: int, full: int, days_per_week: int, advance: str, weekdays: int, times: int
) -> PhasePlan:
    """A phase from its stored columns."""
    return PhasePlan(
        kind=kind, days=days, sessions=Span(least, full), days_per_week=days_per_week,   # type: ignore[arg-type]
        advance=advance, weekdays=from_bits(weekdays, WEEKDAYS), times=from_bits(times, TIMES),   # type: ignore[arg-type]
    )


def plans_of(program: Program) -> list[tuple[Revision, Plan]]:
    """Every revision with its plan, oldest first."""
    return [(revision, plan_of(revision)) for revision in revisions_of(program)]


def plans_of_many(programs: Iterable[Program]) -> dict[int, list[tuple[Revision, Plan]]]:
    """The same for several programs, by key: three queries."""
    found: dict[int, list[tuple[Revision, Plan]]] = {program.pk: [] for program in programs}
    rows = Revision.objects.filter(program__in=found).prefetch_related(
        "phases", Prefetch("items", Item.objects.select_related("exercise", "level"))
    )
    for revision in rows.order_by("number"):
        found[revision.program_id].append((revision, plan_of(revision)))
    return found


def pauses_of(program: Program) -> list[Pause]:
    """Pauses, oldest first; the last may be open."""
    return list(Pause.objects.filter(program=program).order_by("first", "pk"))


def templates_for(user: User) -> QuerySet[Template]:
    """Templates of the house and of a clinician's or lead's sites; nobody else sees any."""
    if user.role == Role.SYSTEM:
        return Template.objects.all()
    if user.role not in (Role.CLINICIAN, Role.LEAD):
        return Template.objects.none()
    return Template.objects.filter(Q(site__isnull=True) | Q(site__in=sites_for(user)))


def template_for(user: User, slug: str) -> Template:
    """One template the user may see."""
    template = templates_for(user).filter(slug=slug).first()
    if template is None:
        raise NotThere
    return template


def own_template_for(user: User, slug: str) -> Template:
    """One template of a site of the user: those of the house are read only."""
    template = template_for(user, slug)
    if template.site_id is None:
        raise NotThere
    return template


def template_plan(template: Template, anchor: date = ANY_DAY) -> Plan:
    """The plan a template holds, beginning on `anchor`."""
    return plan_from_json(template.plan, anchor)


def levels_named(plan: Plan) -> dict[tuple[str, int], Level]:
    """The library's levels that a plan names, by (exercise slug, level number); a name unknown to it is absent."""
    slugs = {item.exercise for item in plan.items}
    rows = Level.objects.filter(exercise__slug__in=slugs).select_related("exercise")
    return {(level.exercise.slug, level.number): level for level in rows}


def levels_beside(items: Iterable[ItemPlan]) -> dict[UUID, list[Level]]:
    """The levels that the client may take in place of the prescribed one, by item key, the easier first.

    The dose stays the prescribed one, so a level that is dosed in another way is none of them. One query; none when no
    item leaves a choice.
    """
    free = [item for item in items if item.neighbours]
    ladders = levels_of({item.exercise for item in free}) if free else {}
    return {
        item.key: [
            level for level in ladders.get(item.exercise, ())
            if level.number in item.neighbours and level.dose["type"] == dose_to_json(item.dose)["type"]
        ]
        for item in free
    }


def exercise_names(slugs: Iterable[str], language: str = "en") -> dict[str, str]:
    """Names of exercises by slug in `language` (BCP 47), for words about a plan; an unknown slug is absent."""
    rows = Exercise.objects.filter(slug__in=set(slugs)).order_by("slug").only("slug", "name", "said")
    return {row.slug: row.name_in(language) for row in rows}


def with_library(plan: Plan, levels: dict[tuple[str, int], Level]) -> Plan:
    """The plan with the library's set-up times."""
    return replace(plan, items=tuple(_with_setup(item, levels) for item in plan.items))


def _with_setup(item: ItemPlan, levels: dict[tuple[str, int], Level]) -> ItemPlan:
    level = levels.get((item.exercise, item.level))
    return replace(item, setup_seconds=level.exercise.setup_seconds) if level else item


def unknown_levels(items: Sequence[ItemPlan], levels: dict[tuple[str, int], Level]) -> dict[str, str]:
    """Items that the library does not hold, or not for that side, by field path."""
    slugs = {slug for slug, _ in levels}
    wrong = {}
    for index, item in enumerate(items):
        if item.exercise not in slugs:
            wrong[f"items.{index}.exercise"] = f"{item.exercise} is not in the exercise library."
        elif (item.exercise, item.level) not in levels:
            wrong[f"items.{index}.level"] = f"{item.exercise} has no level {item.level}."
        elif item.side not in SIDES_OF[levels[item.exercise, item.level].exercise.side]:
            name = levels[item.exercise, item.level].exercise.name
            wrong[f"items.{index}.side"] = f"{name} cannot be given for: {DoseSide(item.side).label}."
    return wrong
