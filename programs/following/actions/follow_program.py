"""Bring one program up to date: days, state, suggestions, and a word to the clinician when the client fell silent."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from programs.following.actions import saving
from programs.following.models import RuleSet, Suggestion
from programs.following.queries import course_of, ladders_for, today_of
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded, fold
from programs.following.rules.proposal import Proposal
from programs.following.rules.suggest import propose
from programs.following.vocab import Band, SuggestionKind, SuggestionState
from programs.prescribing.models import Program, Revision
from programs.prescribing.vocab import ProgramStatus

SILENT_USEFUL = timedelta(days=2)   # a later mail would tell of another silence
GROUND_GONE = "The reason for it is gone."


@transaction.atomic
def follow_program(*, program: Program, now: datetime) -> Folded:
    """Fold, then open, refresh and close suggestions to match what the rules say today. Safe to run at any time."""
    row, rules = saving.rules_now(now)
    today, course = today_of(program, now), course_of(program)
    folded = fold(course, today, rules.bands)
    saving.save(program, course, folded, rules)
    proposals: tuple[Proposal, ...] = ()
    if program.status == ProgramStatus.ACTIVE and course.newest:
        proposals = propose(course, folded, today, rules, ladders_for(course.newest.plan))
    _match(program, course, proposals, row, now, timedelta(days=rules.whole("rest.days")))
    if program.status == ProgramStatus.ACTIVE and folded.state.band == Band.SILENT:
        _tell_of_silence(program, folded, now)
    return folded


def _match(
    program: Program, course: Course, proposals: tuple[Proposal, ...], rules: RuleSet, now: datetime, rest: timedelta
) -> None:
    """The open suggestions are exactly the proposals, apart from those decided a short while ago."""
    wanted: dict[tuple[str, UUID | None], Proposal] = {
        (proposal.kind, proposal.item_key): proposal for proposal in proposals if proposal.kind != SuggestionKind.MAINTAIN
    }
    resting = _resting(program, now - rest) if wanted else set()
    revision = Revision.objects.filter(program=program).order_by("-number").first() if wanted else None
    for held in Suggestion.objects.filter(program=program, state=SuggestionState.OPEN):
        proposal = wanted.pop((held.kind, held.item_key), None)
        if proposal is None:
            held.state, held.decided_at, held.decision_reason = SuggestionState.OUTDATED, now, GROUND_GONE
            held.save(update_fields=["state", "decided_at", "decision_reason"])
            continue
        evidence = proposal.evidence.to_json()
        if revision and (evidence != held.evidence or held.revision_id != revision.pk):
            held.evidence, held.revision, held.rule_set = evidence, revision, rules
            held.save(update_fields=["evidence", "revision", "rule_set"])
    Suggestion.objects.bulk_create(
        Suggestion(
            program=program, item_key=proposal.item_key, kind=proposal.kind, evidence=proposal.evidence.to_json(),
            rule_set=rules, revision=revision, made=now,
        )
        for key, proposal in wanted.items()
        if revision and key not in resting
    )


def _resting(program: Program, since: datetime) -> set[tuple[str, UUID | None]]:
    """What was decided since then and is not asked again yet: what was declined, and what was taken up for the whole."""
    rows = Suggestion.objects.filter(
        program=program, decided_at__gt=since,
        state__in=[SuggestionState.DECLINED, SuggestionState.ACCEPTED, SuggestionState.ALTERED],
    ).values_list("kind", "item_key", "state")
    return {(kind, key) for kind, key, state in rows if state == SuggestionState.DECLINED or key is None}


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
