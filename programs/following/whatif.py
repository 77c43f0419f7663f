"""What another threshold would have suggested over the caseload: replayed from stored logs, some programs at a time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Count, Q, QuerySet

from clinic.people.models import User
from programs.following.courses import first_day_of, pasts_of
from programs.following.models import Suggestion
from programs.following.queries import today_of
from programs.following.rules.replay import replay
from programs.following.rules.ruleset import RuleSet
from programs.following.vocab import SuggestionKind
from programs.prescribing.models import Program
from programs.prescribing.queries import programs_for
from programs.prescribing.vocab import ProgramStatus

CHUNK = 25          # programs held in memory at once
MOST_NAMED = 8      # clients named per kind; the others are counted
KINDS = (           # stopping first, as on the list of suggestions
    SuggestionKind.PAUSE_AND_REFER, SuggestionKind.CONTACT, SuggestionKind.REASSESS, SuggestionKind.REGRESS,
    SuggestionKind.PROGRESS, SuggestionKind.TAPER, SuggestionKind.EXTEND_KICK_OFF,
)


@dataclass(frozen=True, slots=True)
class Differs:
    """One program with another number of suggestions of a kind."""

    client: str
    client_id: UUID
    program: str
    program_id: UUID
    now: int
    then: int


@dataclass(frozen=True, slots=True)
class KindRow:
    """Suggestions of one kind, and how many clients had any: on record, with the rules of today, with the change."""

    kind: SuggestionKind
    recorded: int
    recorded_clients: int
    now: int
    now_clients: int
    then: int
    then_clients: int
    differs: tuple[Differs, ...]
    more: int               # programs that differ and are not named


@dataclass(frozen=True, slots=True)
class Answer:
    """The whole caseload: how many programs and days were gone through."""

    programs: int
    days: int
    rows: tuple[KindRow, ...]


def past_programs(user: User, weeks: int, now: datetime) -> QuerySet[Program]:
    """Programs of one's clients that were running in the last `weeks` weeks, by client's name."""
    since = (now - timedelta(weeks=weeks)).date()
    return (
        programs_for(user).exclude(status=ProgramStatus.DRAFT)
        .filter(Q(ended__isnull=True) | Q(ended__gte=since), starts__lte=now.date() + timedelta(days=1))
        .select_related("client").order_by("client__family_name", "client__given_name", "pk")
    )


def what_if(user: User, *, rules: RuleSet, changed: RuleSet, weeks: int, now: datetime) -> Answer:
    """What `rules` and `changed` would each have suggested in the last `weeks` weeks, against what is on record.

    A suggestion counts once for as long as it stood. One pass over the logs: nine queries for each CHUNK of programs.
    """
    tally = _Tally()
    for program, (now_counts, then_counts), days in _replayed(user, (rules, changed), weeks, now):
        tally.add(program, now_counts, then_counts, days)
    recorded = _recorded(user, weeks, now)
    return Answer(tally.programs, tally.days, tuple(tally.row(kind, recorded) for kind in KINDS))


def _replayed(
    user: User, rule_sets: tuple[RuleSet, ...], weeks: int, now: datetime
) -> Iterator[tuple[Program, list[Counter[str]], int]]:
    keys = list(past_programs(user, weeks, now).values_list("pk", flat=True))
    for start in range(0, len(keys), CHUNK):
        programs = list(past_programs(user, weeks, now).filter(pk__in=keys[start:start + CHUNK]))
        pasts = pasts_of(programs)
        for program in programs:
            today = today_of(program, now)
            first = first_day_of(program, weeks, today)
            last = min(today, program.ended) if program.ended else today
            spells = replay(pasts[program.pk], first, last, rule_sets)
            counts = [Counter(spell.kind for spell in standing) for standing in spells]
            yield program, counts, max(0, (last - first).days + 1)


def _recorded(user: User, weeks: int, now: datetime) -> dict[str, tuple[int, int]]:
    """Suggestions really made in these weeks, and clients with any, by kind."""
    rows = (
        Suggestion.objects.filter(program__in=programs_for(user), made__gte=now - timedelta(weeks=weeks))
        .order_by().values("kind").annotate(made_count=Count("pk"), clients=Count("program__client", distinct=True))
    )
    return {row["kind"]: (row["made_count"], row["clients"]) for row in rows}


class _Tally:
    def __init__(self) -> None:
        self.programs = self.days = 0
        self._sums: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
        self._clients: tuple[Mapping[str, set[int]], Mapping[str, set[int]]] = (defaultdict(set), defaultdict(set))
        self._differs: dict[str, list[Differs]] = defaultdict(list)
        self._more: Counter[str] = Counter()

    def add(self, program: Program, now: Counter[str], then: Counter[str], days: int) -> None:
        self.programs += 1
        self.days += days
        for place, counts in enumerate((now, then)):
            self._sums[place].update(counts)
            for kind in counts:
                self._clients[place][kind].add(program.client_id)
        for kind in sorted(set(now) | set(then)):
            if now[kind] != then[kind]:
                self._note(kind, program, now[kind], then[kind])

    def _note(self, kind: str, program: Program, now: int, then: int) -> None:
        if len(self._differs[kind]) >= MOST_NAMED:
            self._more[kind] += 1
            return
        client = program.client
        self._differs[kind].append(
            Differs(client.name, client.public_id, program.title, program.public_id, now, then)
        )

    def row(self, kind: SuggestionKind, recorded: dict[str, tuple[int, int]]) -> KindRow:
        made, clients = recorded.get(kind, (0, 0))
        now, then = self._sums
        return KindRow(
            kind, made, clients, now[kind], len(self._clients[0][kind]), then[kind], len(self._clients[1][kind]),
            tuple(self._differs[kind]), self._more[kind],
        )
