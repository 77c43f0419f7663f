"""From a program's course to proposals: exactly one per item, none to several for the whole program."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from programs.following.rules import item_rules, program_rules, symptoms
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, LoggedSession, newest_edits
from programs.following.rules.fold import Folded
from programs.following.rules.item_rules import ItemSession
from programs.following.rules.program_rules import Scene
from programs.following.rules.proposal import Evidence, Proposal
from programs.following.rules.ruleset import RuleSet
from programs.prescribing.rules.plan import Plan


@dataclass(frozen=True, slots=True)
class Heard:
    """What the client answered up to a day, as the rules read it. `past` holds each item's sessions, oldest first."""

    sessions: tuple[LoggedSession, ...]       # newest edits, oldest first
    verdicts: tuple[symptoms.Verdict, ...]    # one per session
    past: Mapping[UUID, Sequence[ItemSession]]


def hear(course: Course, rules: RuleSet) -> Heard:
    """Read the answers of a course for the items of its newest revision."""
    mornings = {row.day: row.pain for row in sorted(course.mornings, key=lambda row: row.order)}
    read = item_rules.read(newest_edits(course.sessions), mornings, rules.edges)
    items = course.newest.plan.items if course.newest else ()
    return Heard(
        tuple(each.session for each in read), tuple(each.verdict for each in read),
        {item.key: item_rules.history(course, read, item) for item in items},
    )


def propose(
    course: Course, folded: Folded, today: date, rules: RuleSet, ladders: Mapping[str, Sequence[Rung]]
) -> tuple[Proposal, ...]:
    """Proposals of today: those for the whole program first, then one per item in the order of the plan.

    `ladders` holds the levels of each exercise by slug. Empty when no plan is in force today or the program is paused.
    Items are those of the newest revision, so that a change already decided for tomorrow is not proposed again today.
    A proposal to pause and refer keeps every item as it is: it outranks them.
    """
    if not asks(course, folded, today):
        return ()
    return decide(course, folded, today, rules, ladders, hear(course, rules))


def asks(course: Course, folded: Folded, today: date) -> bool:
    """Whether there is anything to decide today: a plan is in force and the program is not paused."""
    return course.plan_on(today) is not None and bool(folded.days) and folded.days[-1].state != "paused"


def decide(
    course: Course, folded: Folded, today: date, rules: RuleSet, ladders: Mapping[str, Sequence[Rung]], heard: Heard
) -> tuple[Proposal, ...]:
    """`propose` from answers that were already read. Only where `asks` holds."""
    effective, newest = course.plan_on(today), course.newest
    if effective is None or newest is None:
        return ()
    rising = program_rules.pain_rising(folded, today, rules)
    items = [
        item_rules.decide(item, heard.past[item.key], ladders.get(item.exercise, ()), rules, pain_rising=rising)
        for item in newest.plan.items
    ]
    scene = _scene(course, folded, effective.plan, today, heard, items, rising, rules)
    stop = program_rules.pause_and_refer(scene)
    if stop:
        return stop, *(_kept(item) for item in items)
    decided = (newest.plan.anchor, newest.plan.phases) != (effective.plan.anchor, effective.plan.phases)
    whole = (
        program_rules.contact(scene), program_rules.reassess(scene),
        None if decided else program_rules.leave_kick_off(scene) or program_rules.leave_taper_step(scene),
    )
    return *(proposal for proposal in whole if proposal), *items


def _scene(
    course: Course, folded: Folded, plan: Plan, today: date, heard: Heard, items: Sequence[Proposal], rising: bool,
    rules: RuleSet,
) -> Scene:
    last = heard.sessions[-1].log_id if heard.sessions else None
    return Scene(
        course=course, folded=folded, plan=plan, today=today, sessions=heard.sessions, verdicts=heard.verdicts,
        singled_out=any(
            steps and steps[-1].session.log_id == last and steps[-1].singled_out for steps in heard.past.values()
        ),
        stuck=tuple(
            heard.past[item.item_key][-1] for item in items if item.item_key and item.evidence.rule == "nothing_easier"
        ),
        rising=rising, rules=rules,
    )


def _kept(proposal: Proposal) -> Proposal:
    evidence = Evidence(
        "stop_first", {}, {}, "", proposal.evidence.logs, {"exercise": proposal.evidence.change.get("exercise", "")}
    )
    return Proposal("maintain", proposal.item_key, evidence)
