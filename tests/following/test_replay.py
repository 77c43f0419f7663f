"""The replay says of each past day what the rules would have said then: recounted by hand, day by day, from scratch."""

import json
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st

from programs.following.rules import ruleset
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.fold import fold
from programs.following.rules.replay import Past, replay, seen_on
from programs.following.rules.suggest import propose
from tests.following.conftest import BRIDGE, LEVELS, START, done, hip_plan

RULES = ruleset.read(1, json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text()))
LADDERS = {slug: [Rung(number, dose) for number, dose in enumerate(doses, 1)] for slug, (_, doses) in LEVELS.items()}
QUICKER = ruleset.changed(RULES, {"bands.silent_kick_off": 2})
STRICTER = ruleset.changed(RULES, {"pain.acceptable_most": 3, "pain.safe_most": 1, "pain.progress_most": 1})


def on(day: int):
    return START + timedelta(days=day)


def session(day: int, log: int = 0, pain: int | None = 1, items=None, shown: int = 1, edit: int = 0) -> LoggedSession:
    return LoggedSession(
        UUID(int=1000 + 10 * day + log), edit, on(day), shown, 1, pain, 4, "", done() if items is None else items
    )


def past(sessions=(), *, plans=(), written=None, alerts=(), **parts) -> Past:
    course = Course(START, None, (EffectivePlan(1, START, hip_plan()), *plans), sessions=tuple(sessions), **parts)
    return Past(course, written or {}, alerts, LADDERS)


def recount(seen: Past, first: int, last: int, rules) -> Counter:
    """By hand: every day folded and judged from nothing; a proposal counts on the first day of each time it stood."""
    counts, before = Counter(), set()
    for day in range(first, last + 1):
        course = seen_on(seen, on(day))
        found = propose(course, fold(course, on(day), rules.bands), on(day), rules, LADDERS)
        standing = {(each.kind, each.item_key) for each in found if each.kind != "maintain"}
        counts.update(kind for kind, _ in standing - before)
        before = standing
    return counts


def counted(spells) -> Counter:
    return Counter(spell.kind for spell in spells)


def test_a_silence_is_one_suggestion_for_as_long_as_it_lasts():
    told, sooner = replay(past([session(0), session(6)]), on(0), on(8), [RULES, QUICKER])
    assert [(s.kind, s.rule, s.first, s.last) for s in told] == [
        ("contact", "silent", on(4), on(8)),                       # heard from on the sixth, and then little was done
        ("extend_kick_off", "kick_off_not_yet", on(6), on(8)),
    ]
    assert (sooner[0].kind, sooner[0].first, sooner[0].last) == ("contact", on(3), on(8))


def test_what_was_accepted_that_day_was_suggested_before_it():
    harder = replace(hip_plan(), items=(replace(hip_plan().items[0], level=2, dose=LEVELS["bridge"][1][1]),
                                        *hip_plan().items[1:]))
    strong = [session(day, items=done(reps=12)) for day in range(2)]
    told, = replay(past(strong, plans=(EffectivePlan(2, on(2), harder),), written={2: on(1)}), on(0), on(3), [RULES])
    assert [(s.kind, s.item_key, s.first, s.last) for s in told] == [("progress", BRIDGE, on(1), on(1))]


def test_a_pause_and_a_closed_alert_end_what_they_answer():
    asked = past([session(0)], pauses=(PauseSpan(on(2), None),), alerts=((on(1), on(2)),))
    told, = replay(asked, on(0), on(5), [RULES])
    assert [(s.kind, s.rule, s.first, s.last) for s in told] == [("pause_and_refer", "red_flag", on(1), on(2))]


def test_the_morning_after_is_not_known_the_evening_before():
    raised = past([session(0, pain=2)], mornings=(Morning(on(0), 6, 1),))
    told, = replay(raised, on(0), on(1), [RULES])
    assert [(s.rule, s.first) for s in told] == [("pain_unplaced", on(1))]


def test_an_ended_program_is_gone_through_to_its_end():
    ended = past([session(0)])
    ended = replace(ended, course=replace(ended.course, ended=on(5)))
    told, = replay(ended, on(0), on(30), [RULES])
    assert [(s.kind, s.last) for s in told] == [("contact", on(5))]


marks = st.builds(
    session, day=st.integers(0, 13), log=st.integers(0, 1), pain=st.sampled_from([None, 0, 2, 4, 6, 8]),
    items=st.sampled_from([done(), done(reps=12), done(rating="too_hard"), done(rating="too_easy"), done(skipped="pain"),
                           done(share=0.4), done(share=3.0), ()]),
    shown=st.sampled_from([1, 1, 2]), edit=st.integers(0, 1),
).map(lambda row: replace(row, shown=1) if row.day < on(6) else row)   # nobody answers a revision before it was written
STEP = EffectivePlan(2, on(6), replace(hip_plan(), items=(
    replace(hip_plan().items[0], level=2, dose=LEVELS["bridge"][1][1]), *hip_plan().items[1:])))


@settings(deadline=None, max_examples=25)   # a busy machine is not a fault
@given(
    st.lists(marks, max_size=16), st.lists(st.builds(Morning, st.integers(0, 12).map(on), st.integers(0, 10), st.just(1)),
                                           max_size=3),
    st.sampled_from([(), (PauseSpan(on(4), on(7)),), (PauseSpan(on(9), None),)]), st.booleans(), st.integers(0, 5),
)
def test_counts_agree_with_a_recount_by_hand(sessions, mornings, pauses, revised, first):
    held = past(
        sessions, mornings=tuple(replace(row, order=number) for number, row in enumerate(mornings)), pauses=pauses,
        plans=(STEP,), written={2: on(5)} if revised else {2: on(3)}, alerts=((on(10), on(11)),),
    )
    told = replay(held, on(first), on(13), [RULES, QUICKER, STRICTER])
    for rules, spells in zip([RULES, QUICKER, STRICTER], told, strict=True):
        assert counted(spells) == recount(held, first, 13, rules)
