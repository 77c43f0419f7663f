"""One item: progress, maintain or regress. Exactly one of them, and why.

Progress by repetitions is the 2-for-2 rule: two or more repetitions above the goal in the last set of two consecutive
sessions (Baechle TR, Earle RW, Essentials of Strength Training and Conditioning, NSCA). ACSM's position stand asks for
one or two repetitions above and names no number of sessions (Ratamess NA et al. 2009, Med Sci Sports Exerc 41(3):687-708);
where they differ we follow the stricter. Pain holds back or eases (rules/symptoms.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from programs.following.rules import adherence, change, symptoms
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, LoggedSession
from programs.following.rules.entry import ItemEntry
from programs.following.rules.proposal import Evidence, Proposal, ProposalKind, behind
from programs.following.rules.ruleset import RuleSet
from programs.library.rules.dose import Reps, dose_to_json
from programs.prescribing.rules.plan import ItemPlan


@dataclass(frozen=True, slots=True)
class ItemSession:
    """One session of an item at its present level and dose."""

    session: LoggedSession
    entry: ItemEntry | None
    verdict: symptoms.Verdict
    rise: int | None              # points above the level before, next morning
    alone: bool                   # nothing else was done in that session
    aside: int = 0                # levels above the prescribed one that the client chose; below it negative

    @property
    def skipped_for_pain(self) -> bool:
        return self.entry is not None and self.entry.skipped == "pain"

    @property
    def rating(self) -> str:
        """How it felt, as far as it speaks of the prescribed level: an easier one that was too easy says nothing of it."""
        said = self.entry.rating if self.entry else ""
        return "" if (said == "too_easy" and self.aside < 0) or (said == "too_hard" and self.aside > 0) else said

    @property
    def reps_last_set(self) -> int | None:
        return self.entry.reps_last_set if self.entry and self.aside >= 0 else None

    @property
    def singled_out(self) -> bool:
        """Whether the client's answers point at this item."""
        return self.skipped_for_pain or (self.entry is not None and self.entry.rating == "too_hard") or self.alone


@dataclass(frozen=True, slots=True)
class ReadSession:
    """One session as every item's history reads it: judged once, its entries by item."""

    session: LoggedSession
    entries: Mapping[UUID, ItemEntry]
    worked: int                   # items with anything done
    verdict: symptoms.Verdict
    rise: int | None


def read(sessions: Iterable[LoggedSession], mornings: Mapping[date, int], edges: symptoms.Edges) -> list[ReadSession]:
    """Judge sessions with the morning after, once for all items."""
    found = []
    for session in sessions:
        morning = mornings.get(session.day)
        found.append(ReadSession(
            session, {done.item_key: done for done in session.items},
            sum(1 for done in session.items if done.done_left or done.done_right),
            symptoms.verdict(session.pain_during, session.pain_before, morning, edges),
            symptoms.morning_rise(session.pain_before, morning, edges),
        ))
    return found


def history(course: Course, sessions: Sequence[ReadSession], item: ItemPlan) -> list[ItemSession]:
    """Sessions of the item, oldest first, as long as level and dose were those of today."""
    found: list[ItemSession] = []
    shown = {plan.number: change.item_of(plan.plan, item.key) for plan in course.plans}
    same = {number for number, held in shown.items() if held and (held.level, held.dose) == (item.level, item.dose)}
    for each in sessions:
        if each.session.shown not in same:
            continue
        entry = each.entries.get(item.key)
        others = each.worked - bool(entry and (entry.done_left or entry.done_right))
        found.append(ItemSession(
            each.session, entry, each.verdict, each.rise, entry is not None and not others,
            entry.level - item.level if entry and entry.level else 0,
        ))
    return found


def decide(
    item: ItemPlan, past: Sequence[ItemSession], ladder: Sequence[Rung], rules: RuleSet, *, pain_rising: bool
) -> Proposal:
    """Exactly one proposal for the item."""
    for rule in (_pain_here, _skipped_for_pain, _too_hard):
        evidence = rule(past, rules)
        if evidence:
            easier = change.easier(item, ladder)
            return _proposal("regress", item, evidence, easier) if easier else _stays(item, "nothing_easier", past)
    evidence = _two_for_two(item, past, rules) or _easy(item, past, rules)
    if evidence is None:
        return _stays(item, "no_reason", past)
    if pain_rising:
        return _stays(item, "pain_rising", past)
    held = _held_back(past[-len(evidence.logs):], rules)
    if held:
        return _stays(item, held, past)
    harder = change.harder(item, ladder)
    return _proposal("progress", item, evidence, harder) if harder else _stays(item, "nothing_harder", past)


def _proposal(kind: ProposalKind, item: ItemPlan, evidence: Evidence, then: ItemPlan) -> Proposal:
    before_and_after = {
        "exercise": item.exercise,
        "level_from": item.level, "level_to": then.level,
        "dose_from": dose_to_json(item.dose), "dose_to": dose_to_json(then.dose),
    }
    return Proposal(kind, item.key, Evidence(
        evidence.rule, evidence.observed, evidence.threshold, evidence.source, evidence.logs, before_and_after
    ))


def _stays(item: ItemPlan, why: str, past: Sequence[ItemSession]) -> Proposal:
    logs = behind(step.session for step in past[-2:])
    return Proposal("maintain", item.key, Evidence(why, {}, {}, "", logs, {"exercise": item.exercise}))


def _pain_here(past: Sequence[ItemSession], rules: RuleSet) -> Evidence | None:
    """Too much pain in the newest session, or raised the morning after, and the answers point at this item."""
    if not past or past[-1].verdict != "ease" or not past[-1].singled_out:
        return None
    last = past[-1]
    during = last.session.pain_during
    if during is not None and during > rules.edges.acceptable_most:
        return Evidence(
            "pain_above_limit", {"pain": during}, {"pain": rules.edges.acceptable_most},
            rules.sources["pain.acceptable_most"], behind([last.session]),
        )
    return Evidence(
        "pain_next_morning", {"rise": last.rise}, {"rise": rules.edges.morning_rise},
        rules.sources["pain.morning_rise"], behind([last.session]),
    )


def _skipped_for_pain(past: Sequence[ItemSession], rules: RuleSet) -> Evidence | None:
    recent = past[-rules.whole("regress.skip_window"):]
    skips = [step for step in recent if step.skipped_for_pain]
    if len(skips) < rules.whole("regress.skips"):
        return None
    return Evidence(
        "skipped_for_pain", {"sessions": len(skips), "of": len(recent)},
        {"sessions": rules.whole("regress.skips"), "of": rules.whole("regress.skip_window")},
        rules.sources["regress.skips"], behind(step.session for step in skips),
    )


def _too_hard(past: Sequence[ItemSession], rules: RuleSet) -> Evidence | None:
    return _in_a_row("too_hard", past, rules, "regress.hard_sessions")


def _in_a_row(rating: str, past: Sequence[ItemSession], rules: RuleSet, name: str) -> Evidence | None:
    wanted = rules.whole(name)
    recent = past[-wanted:]
    if len(recent) < wanted or any(step.rating != rating for step in recent):
        return None
    return Evidence(
        rating, {"sessions": wanted}, {"sessions": wanted}, rules.sources[name], behind(step.session for step in recent)
    )


def _two_for_two(item: ItemPlan, past: Sequence[ItemSession], rules: RuleSet) -> Evidence | None:
    if not isinstance(item.dose, Reps):
        return None
    wanted, extra, goal = rules.whole("progress.sessions"), rules.whole("progress.extra_reps"), item.dose.reps.full
    recent = past[-wanted:]
    reps = [step.reps_last_set for step in recent]
    if len(recent) < wanted or any(count is None or count < goal + extra for count in reps):
        return None
    return Evidence(
        "two_for_two", {"reps": reps, "goal": goal}, {"extra_reps": extra, "sessions": wanted},
        rules.sources["progress.extra_reps"], behind(step.session for step in recent),
    )


def _easy(item: ItemPlan, past: Sequence[ItemSession], rules: RuleSet) -> Evidence | None:
    """Too easy several times in a row with the whole dose done."""
    evidence = _in_a_row("too_easy", past, rules, "progress.easy_sessions")
    if evidence is None:
        return None
    whole = all(adherence.item_ratio(item, step.entry, "full") >= 1 for step in past[-rules.whole("progress.easy_sessions"):])
    return evidence if whole else None


def _held_back(recent: Sequence[ItemSession], rules: RuleSet) -> str | None:
    """Why pain holds progress back: above what the clinic lets progress, raised next morning, or never rated."""
    rated = [step.session.pain_during for step in recent if step.session.pain_during is not None]
    if not rated:
        return "pain_not_rated"
    if max(rated) > rules.whole("pain.progress_most"):
        return "pain_holds"
    return "pain_next_morning" if any(step.rise for step in recent) else None
