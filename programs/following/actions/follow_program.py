"""Bring one program up to date: days, state, suggestions, and a word to the clinician when the client fell silent."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from programs.following.actions import saving
from programs.following.models import RuleSet, Suggestion
from programs.following.queries import course_of, ladders_for, today_of
from programs.following.recent import Written, enough, recent_of
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded, fold, fold_over
from programs.following.rules.proposal import Proposal
from programs.following.rules.ruleset import RuleSet as RuleNumbers
from programs.following.rules.suggest import propose
from programs.following.vocab import Band, SuggestionKind, SuggestionState
from programs.prescribing.models import Program, Revision
from programs.prescribing.vocab import ProgramStatus

SILENT_USEFUL = timedelta(days=2)   # a later mail would tell of another silence
DECIDED = (SuggestionState.DECLINED, SuggestionState.ACCEPTED, SuggestionState.ALTERED)
GROUND_GONE = "The reason for it is gone."


@transaction.atomic(savepoint=False)   # whoever calls it inside a transaction goes back with it
def follow_program(*, program: Program, now: datetime, written: Written | None = None) -> Folded:
    """Fold, then open, refresh and close suggestions to match what the rules say today. Safe to run at any time.

    Where nothing has changed since the last time but the logs just `written`, the end of the history is enough; the whole
    is read where it is not. Both come to the same.
    """
    row, rules = saving.rules_now(now)
    today = today_of(program, now)
    folded, proposals = (
        (_recent(program, written, today, rules) if written else None) or _whole(program, today, rules)
    )
    revision = written.plans[-1][0] if written else program.revisions.order_by("-number").first()
    _match(program, revision, proposals, row, now, timedelta(days=rules.whole("rest.days")))
    if program.status == ProgramStatus.ACTIVE and folded.state.band == Band.SILENT:
        _tell_of_silence(program, folded, now)
    return folded


Followed = tuple[Folded, tuple[Proposal, ...]]


def _recent(program: Program, written: Written, today: date, rules: RuleNumbers) -> Followed | None:
    """From the end of the history; None, with nothing written, when it is not enough."""
    recent = recent_of(program, written, today)
    if recent is None:
        return None
    folded = fold_over(recent.course, recent.days, recent.touched, today, rules.bands)
    proposals = _proposals(program, recent.course, folded, today, rules)
    if not enough(program, recent, proposals) or saving.save_recent(program, recent, folded, rules) is None:
        return None
    return folded, proposals


def _whole(program: Program, today: date, rules: RuleNumbers) -> Followed:
    course = course_of(program)
    folded = fold(course, today, rules.bands)
    saving.save(program, course, folded, rules)
    return folded, _proposals(program, course, folded, today, rules)


def _proposals(
    program: Program, course: Course, folded: Folded, today: date, rules: RuleNumbers
) -> tuple[Proposal, ...]:
    if program.status != ProgramStatus.ACTIVE or not course.newest:
        return ()
    return propose(course, folded, today, rules, ladders_for(course.newest.plan))


def _match(
    program: Program, revision: Revision | None, proposals: tuple[Proposal, ...], rules: RuleSet, now: datetime,
    rest: timedelta,
) -> None:
    """The open suggestions are exactly the proposals, apart from those decided a short while ago."""
    wanted: dict[tuple[str, UUID | None], Proposal] = {
        (proposal.kind, proposal.item_key): proposal for proposal in proposals if proposal.kind != SuggestionKind.MAINTAIN
    }
    known = Suggestion.objects.filter(Q(state=SuggestionState.OPEN) | Q(state__in=DECIDED, decided_at__gt=now - rest))
    resting: set[tuple[str, UUID | None]] = set()
    for held in known.filter(program=program):
        if held.state == SuggestionState.OPEN:
            _refresh(held, wanted.pop((held.kind, held.item_key), None), revision, rules, now)
        elif held.state == SuggestionState.DECLINED or held.item_key is None:
            resting.add((held.kind, held.item_key))   # not asked again yet
    Suggestion.objects.bulk_create(
        Suggestion(
            program=program, item_key=proposal.item_key, kind=proposal.kind, evidence=proposal.evidence.to_json(),
            rule_set=rules, revision=revision, made=now,
        )
        for key, proposal in wanted.items()
        if revision and key not in resting
    )


def _refresh(
    held: Suggestion, proposal: Proposal | None, revision: Revision | None, rules: RuleSet, now: datetime
) -> None:
    """An open suggestion after today's proposals: its evidence brought up to date, or closed when its ground is gone."""
    if proposal is None:
        held.state, held.decided_at, held.decision_reason = SuggestionState.OUTDATED, now, GROUND_GONE
        held.save(update_fields=["state", "decided_at", "decision_reason"])
        return
    evidence = proposal.evidence.to_json()
    if revision and (evidence != held.evidence or held.revision_id != revision.pk):
        held.evidence, held.revision, held.rule_set = evidence, revision, rules
        held.save(update_fields=["evidence", "revision", "rule_set"])


def _tell_of_silence(program: Program, folded: Folded, now: datetime) -> None:
    """One message per silence: it is known by the day on which it began."""
    since = folded.silent_since
    if since is None:
        return
    queue_message(
        by=system_actor(), kind="client_silent", to=program.clinician, about=f"program:{program.public_id}",
        dedup_key=f"client_silent:{program.public_id}:{since.isoformat()}",
        due=now, not_after=now + SILENT_USEFUL, now=now,
        values={"first_name": program.client.given_name, "day": f"{since.day} {since:%B}", "url": "/suggestions/"},
    )
