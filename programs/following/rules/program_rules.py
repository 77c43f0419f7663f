"""The whole program: taper or extend the kick-off, contact, reassess, pause and refer. None, one or several."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil

from programs.following.rules import adherence, change, symptoms
from programs.following.rules.course import Course, LoggedSession
from programs.following.rules.fold import Folded, current_phase
from programs.following.rules.item_rules import ItemSession
from programs.following.rules.proposal import Evidence, Proposal, behind
from programs.following.rules.ruleset import RuleSet
from programs.prescribing.rules.plan import Plan, phase_on

RECENT_DAYS = 7   # of a kick-off, that say whether it may taper
MEANS_NAMED = 4   # weekly means that a proposal to reassess names


@dataclass(frozen=True, slots=True)
class Scene:
    """What the program rules look at."""

    course: Course
    folded: Folded
    plan: Plan                     # in force today
    today: date
    sessions: tuple[LoggedSession, ...]              # newest edits, oldest first
    verdicts: tuple[symptoms.Verdict, ...]           # one per session
    singled_out: bool              # the newest session's answers point at an item
    stuck: tuple[ItemSession, ...]                   # items that should step down and cannot
    rising: bool                   # pain climbs from week to week
    rules: RuleSet


def pain_rising(folded: Folded, today: date, rules: RuleSet) -> bool:
    """Weekly means that climb week on week, as often in a row as the rule set says."""
    means = symptoms.weekly_means(folded.pains, today)
    return symptoms.rises_in_a_row(means) >= rules.whole("pain.rising_weeks")


def pause_and_refer(scene: Scene) -> Proposal | None:
    """A red-flag answer is open, pain was severe, or sessions hurt too much several times in a row."""
    rules, last = scene.rules, scene.sessions[-1] if scene.sessions else None
    if scene.course.open_alerts:
        return Proposal("pause_and_refer", None, Evidence(
            "red_flag", {"open": scene.course.open_alerts}, {"open": 0}, "Common practice, no source"
        ))
    if last and last.pain_during is not None and last.pain_during >= rules.whole("pain.severe"):
        return Proposal("pause_and_refer", None, Evidence(
            "pain_severe", {"pain": last.pain_during}, {"pain": rules.whole("pain.severe")},
            rules.sources["pain.severe"], behind([last]),
        ))
    wanted = rules.whole("pain.ease_sessions")
    if len(scene.verdicts) >= wanted and all(verdict == "ease" for verdict in scene.verdicts[-wanted:]):
        return Proposal("pause_and_refer", None, Evidence(
            "pain_keeps_on", {"sessions": wanted}, {"sessions": wanted}, rules.sources["pain.ease_sessions"],
            behind(scene.sessions[-wanted:]),
        ))
    return None


def contact(scene: Scene) -> Proposal | None:
    """Somebody should talk to the client; the weightiest reason is named."""
    for rule in (_pain_somewhere, _cannot_step_down, _silent, _too_much, _little_done):
        evidence = rule(scene)
        if evidence:
            return Proposal("contact", None, evidence)
    return None


def _pain_somewhere(scene: Scene) -> Evidence | None:
    if not scene.verdicts or scene.verdicts[-1] != "ease" or scene.singled_out:
        return None
    last, edges = scene.sessions[-1], scene.rules.edges
    return Evidence(
        "pain_unplaced", {"pain": last.pain_during}, {"pain": edges.acceptable_most, "morning_rise": edges.morning_rise},
        scene.rules.sources["pain.acceptable_most"], behind([last]),
    )


def _cannot_step_down(scene: Scene) -> Evidence | None:
    if not scene.stuck:
        return None
    return Evidence(
        "nothing_easier", {"items": len(scene.stuck)}, {"items": 0}, "Common practice, no source",
        behind(step.session for step in scene.stuck),
    )


def _silent(scene: Scene) -> Evidence | None:
    state, bands = scene.folded.state, scene.rules.bands
    if state.band != "silent" or scene.folded.silent_since is None:
        return None
    name = "bands.silent_kick_off" if state.phase_kind == "kick_off" else "bands.silent_after"
    limit = bands.silent_kick_off if state.phase_kind == "kick_off" else bands.silent_after
    return Evidence(
        "silent", {"days": state.silent_days, "since": scene.folded.silent_since.isoformat()}, {"days": limit},
        scene.rules.sources[name], behind(scene.sessions[-1:]),
    )


def _too_much(scene: Scene) -> Evidence | None:
    ratio, limit = scene.folded.state.overdose, scene.rules.bands.overdose
    if ratio is None or ratio <= limit:
        return None
    week = [session for session in scene.sessions if (scene.today - session.day).days < 7]
    return Evidence(
        "overdose", {"ratio": round(ratio, 2)}, {"ratio": limit}, scene.rules.sources["bands.overdose"], behind(week)
    )


def _little_done(scene: Scene) -> Evidence | None:
    state, rules = scene.folded.state, scene.rules
    if state.band != "low" or state.adherence_7 is None:
        return None
    if scene.folded.count < rules.whole("contact.low_days"):
        return None
    return Evidence(
        "little_done", {"share": round(state.adherence_7, 3)}, {"share": rules.bands.partly},
        rules.sources["bands.partly"], behind(scene.sessions[-7:]),
    )


def reassess(scene: Scene) -> Proposal | None:
    """Pain goes up: from week to week, or along a slope whose whole interval is above 0."""
    rules = scene.rules
    if scene.rising:
        means = symptoms.weekly_means(scene.folded.pains, scene.today)
        return Proposal("reassess", None, Evidence(
            "pain_rising_weekly", {"means": [round(mean, 2) for mean in means[-MEANS_NAMED:]]},
            {"rises": rules.whole("pain.rising_weeks")}, rules.sources["pain.rising_weeks"], behind(_rated(scene)),
        ))
    slope = scene.folded.slope
    if slope and slope.low > 0 and slope.value >= rules.numbers["pain.slope"]:
        return Proposal("reassess", None, Evidence(
            "pain_slope", {"points_a_week": round(slope.value, 2), "low": round(slope.low, 2), "high": round(slope.high, 2)},
            {"points_a_week": rules.numbers["pain.slope"]}, rules.sources["pain.slope"], behind(_rated(scene)),
        ))
    return None


def _rated(scene: Scene) -> list[LoggedSession]:
    return [session for session in scene.sessions if session.pain_during is not None]


def leave_kick_off(scene: Scene) -> Proposal | None:
    """At the end of a kick-off: taper when enough was done without too much pain, otherwise give it more days.

    What counts is the last seven days of it that were not paused, so that days given on top can make up for the first ones.
    Paused days are no days of a kick-off that waits for a decision. One that moves on by date is only ever extended: it
    tapers by itself. None while the client is silent: that asks for a call, not for more days.
    """
    number, index = phase_on(scene.plan, scene.today)
    phase, rules, state = scene.plan.phases[number], scene.rules, scene.folded.state
    if phase.kind != "kick_off" or phase.days is None or state.band in {"silent", "new", "paused"}:
        return None
    lived = [day for day in scene.folded.counted[-(index + 1):] if day.state != "paused"]
    share = adherence.share(lived[-RECENT_DAYS:], scene.today)
    day = len(lived) if phase.advance == "by_decision" else index + 1
    if share is None or phase.days - day >= rules.whole("taper.window_days"):
        return None
    hurts = "ease" in scene.verdicts[-2:] or scene.rising
    ready = share >= rules.numbers["taper.adherence"] and not hurts
    logs = behind(session for session in scene.sessions if session.day in _phase_days(scene))
    observed = {"share": round(share, 3), "days": day, "pain_in_the_way": hurts}
    limits = {"share": rules.numbers["taper.adherence"], "days": float(phase.days)}
    if not ready:
        missed = min(max(ceil((1 - share) * phase.days), change.EXTEND_LEAST), change.EXTEND_MOST)
        return Proposal("extend_kick_off", None, Evidence(
            "kick_off_not_yet", observed, limits, rules.sources["taper.adherence"], logs, {"days": missed}
        ))
    past_least = day >= max(rules.whole("taper.least_days"), phase.days)
    if phase.advance != "by_decision" or not past_least or change.tapered(scene.plan, scene.today) is None:
        return None
    return Proposal("taper", None, Evidence("kick_off_done", observed, limits, rules.sources["taper.adherence"], logs))


def leave_taper_step(scene: Scene) -> Proposal | None:
    """A taper step that waits for a decision and has run its days well: move on to the next phase.

    Too little done or too much pain proposes nothing of its own: contact and reassess say so.
    """
    number, index = phase_on(scene.plan, scene.today)
    phase, rules, state = scene.plan.phases[number], scene.rules, scene.folded.state
    waits = phase.kind == "taper" and phase.advance == "by_decision" and phase.days is not None
    if not waits or index + 1 < (phase.days or 0) or number + 1 == len(scene.plan.phases):
        return None
    share = state.adherence_phase
    hurts = "ease" in scene.verdicts[-2:] or scene.rising
    if state.band in {"silent", "new", "paused"} or share is None or share < rules.numbers["taper.adherence"] or hurts:
        return None
    logs = behind(session for session in scene.sessions if session.day in _phase_days(scene))
    return Proposal("taper", None, Evidence(
        "taper_step_done", {"share": round(share, 3), "days": index + 1},
        {"share": rules.numbers["taper.adherence"], "days": float(phase.days or 0)}, rules.sources["taper.adherence"], logs,
        {"phase": number + 2, "phase_kind": scene.plan.phases[number + 1].kind},
    ))


def _phase_days(scene: Scene) -> set[date]:
    return {day.day for day in current_phase(scene.folded.days)}
