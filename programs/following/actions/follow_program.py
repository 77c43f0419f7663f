"""Bring one program up to date: days, state, suggestions, and a word to the clinician when the client fell silent."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q, TextField
from django.db.models.functions import Cast

from clinic.people.prepared import MOMENT, READER, Prepared
from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from programs.following.actions import saving
from programs.following.ladders import ladders_for
from programs.following.models import Suggestion
from programs.following.queries import course_of, today_of
from programs.following.recent import Written, enough, lengths, recent_of
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded, fold
from programs.following.rules.proposal import Proposal
from programs.following.rules.ruleset import RuleSet as RuleNumbers
from programs.following.rules.suggest import propose
from programs.following.vocab import Band, SuggestionKind, SuggestionState
from programs.prescribing.models import Program
from programs.prescribing.queries import newest_revision_key
from programs.prescribing.vocab import ProgramStatus

SILENT_USEFUL = timedelta(days=2)   # a later mail would tell of another silence
DECIDED = (SuggestionState.DECLINED, SuggestionState.ACCEPTED, SuggestionState.ALTERED)
GROUND_GONE = "The reason for it is gone."
_KNOWN = Prepared(lambda _: Suggestion.objects.filter(
    Q(state=SuggestionState.OPEN) | Q(state__in=DECIDED, decided_at__gt=MOMENT), program=READER
).order_by().values_list("pk", "kind", "item_key", "state", Cast("evidence", TextField()), "revision_id"))


@transaction.atomic(savepoint=False)   # whoever calls it inside a transaction goes back with it
def follow_program(*, program: Program, now: datetime, written: Written | None = None) -> Folded:
    """Fold, then open, refresh and close suggestions to match what the rules say today. Safe to run at any time.

    Where nothing has changed since the last time but the logs or answers just `written`, the end of the history is enough;
    the whole is read where it is not. Both come to the same.
    """
    rule_set, rules = saving.rule_numbers(now)
    today = today_of(program, now)
    folded, proposals = (
        (_recent(program, written, today, rules) if written else None) or _whole(program, today, rules)
    )
    revision = written.plans[-1][0].pk if written else newest_revision_key(program)
    _match(program, revision, proposals, rule_set, now, timedelta(days=rules.whole("rest.days")))
    if program.status == ProgramStatus.ACTIVE and folded.state.band == Band.SILENT:
        _tell_of_silence(program, folded, now)
    return folded


Followed = tuple[Folded, tuple[Proposal, ...]]


def _recent(program: Program, written: Written, today: date, rules: RuleNumbers) -> Followed | None:
    """From the end of the history; None, with nothing written, when it is not enough."""
    for rows in lengths():
        recent = recent_of(program, written, today, rules, rows)
        folded = recent.fold(today, rules) if recent else None
        if recent is None or folded is None:
            return None
        proposals = _proposals(program, recent.course, folded, today, rules)
        if enough(program, recent, folded, proposals):
            return (folded, proposals) if saving.save_recent(program, recent, folded, rules) is not None else None
    return None


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
    program: Program, revision: int | None, proposals: tuple[Proposal, ...], rule_set: int, now: datetime, rest: timedelta
) -> None:
    """The open suggestions are exactly the proposals, apart from those decided a short while ago."""
    wanted: dict[tuple[str, UUID | None], Proposal] = {
        (proposal.kind, proposal.item_key): proposal for proposal in proposals if proposal.kind != SuggestionKind.MAINTAIN
    }
    resting: set[tuple[str, UUID | None]] = set()
    for pk, kind, item_key, state, evidence, against in _KNOWN.rows(reader=program.pk, moment=now - rest):
        if state == SuggestionState.OPEN:
            proposal = wanted.pop((kind, item_key), None)
            if proposal is None:
                Suggestion.objects.filter(pk=pk).update(
                    state=SuggestionState.OUTDATED, decided_at=now, decision_reason=GROUND_GONE
                )
            elif revision and (proposal.evidence.to_json() != json.loads(evidence) or against != revision):
                Suggestion.objects.filter(pk=pk).update(
                    evidence=proposal.evidence.to_json(), revision_id=revision, rule_set_id=rule_set
                )
        elif state == SuggestionState.DECLINED or item_key is None:
            resting.add((kind, item_key))   # not asked again yet
    Suggestion.objects.bulk_create(
        Suggestion(
            program=program, item_key=proposal.item_key, kind=proposal.kind, evidence=proposal.evidence.to_json(),
            rule_set_id=rule_set, revision_id=revision, made=now,
        )
        for key, proposal in wanted.items()
        if revision is not None and key not in resting
    )


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
