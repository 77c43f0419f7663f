"""Reading and telling a story of fixtures/stories: a plan, log lines, and what is expected on named days.

A phase is `kind [days]d least-full/day days/week [decide]`. A line of the course is `days word …`, days being `3`, `0-6` or
`0,2,4` from the program's first day on:

    done       a session, all of it; `share 0.5` of it, `reps 12` in the bridge's last set, bridge rated `easy` or `hard`
               or left out for pain (`skip`), stretch `left 60 right 0` seconds, `pain 3`, `before 1`, `morning 4` (known
               the next day), `received 6` (not known before), `shown 1` (answers that revision); `edit done` corrects
    nothing    a session logged as not done
    accept     a suggestion of that kind (and item) must stand; it is carried out from the next day
    revise     phases in place of the ones there, by the clinician's hand, from the next day
    pause, resume, end, alert, alert closed
"""

import json
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

from programs.following.rules import change, ruleset
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import fold
from programs.following.rules.suggest import propose
from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan, problems
from tests.following.conftest import BRIDGE, LEVELS, ROLL, START, STRETCH, hip_plan

FIXTURES = Path(__file__).parents[2] / "fixtures"
STORIES = sorted((FIXTURES / "stories").glob("*.json"))
RULES = ruleset.read(1, json.loads((FIXTURES / "rule_sets/default.json").read_text(encoding="utf-8")))
LADDERS = {slug: [Rung(number, dose) for number, dose in enumerate(doses, 1)] for slug, (_, doses) in LEVELS.items()}
KEYS = {"bridge": BRIDGE, "hip-stretch": STRETCH, "roll-thigh": ROLL}
NAMES = {key: name for name, key in KEYS.items()}
USUAL = ["kick_off 7d 1-2/day decide", "taper 14d 1/day 4/week", "maintenance 1/day 2/week"]


def on(day: int):
    return START + timedelta(days=day)


def read(path: Path) -> dict:
    """The story. Whoever wrote a word that is not known is told which."""
    story = json.loads(path.read_text(encoding="utf-8"))
    unknown = set(story) - {"name", "why", "phases", "items", "course", "expect"}
    assert not unknown, f"{path.name}: {unknown}"
    return story


def phase(text: str) -> PhasePlan:
    kind, *words = text.split()
    values = {"days": None, "sessions": Span(1, 1), "days_per_week": 7, "advance": "by_date"}
    for word in words:
        if word == "decide":
            values["advance"] = "by_decision"
        elif word.endswith("/day"):
            least, _, full = word.removesuffix("/day").partition("-")
            values["sessions"] = Span(int(least), int(full or least))
        elif word.endswith("/week"):
            values["days_per_week"] = int(word.removesuffix("/week"))
        else:
            values["days"] = int(word.removesuffix("d"))
    return PhasePlan(kind, **values)


def plan_of(story: dict):
    items = {item.exercise: item for item in hip_plan().items}
    chosen = []
    for text in story.get("items", list(items)):
        slug, *dose = text.split()
        item = items[slug]
        if dose:
            least, full = dose[1].split("-")
            item = replace(item, dose=replace(item.dose, reps=Span(int(least), int(full))))
        chosen.append(item)
    plan = replace(hip_plan(), phases=tuple(phase(text) for text in story.get("phases", USUAL)), items=tuple(chosen))
    assert problems(plan.phases, plan.items) == {}
    return plan


def days_of(text: str) -> list[int]:
    if "-" in text:
        first, last = text.split("-")
        return list(range(int(first), int(last) + 1))
    return [int(part) for part in text.split(",")]


def answers(words: list[str]) -> dict[str, str]:
    """`pain 3 easy` -> {"pain": "3", "easy": ""}."""
    found, rest = {}, list(words)
    while rest:
        word = rest.pop(0)
        assert word in {"share", "reps", "easy", "hard", "skip", "left", "right", "pain", "before", "morning", "received",
                        "shown"}, word
        found[word] = "" if word in {"easy", "hard", "skip"} else rest.pop(0)
    return found


def entries(given: dict[str, str]) -> tuple[ItemEntry, ...]:
    share, skip = float(given.get("share", 1)), "skip" in given
    rating = "too_easy" if "easy" in given else "too_hard" if "hard" in given else ""
    bridge = ItemEntry(
        BRIDGE, 0 if skip else round(80 * share), 0, int(given["reps"]) if "reps" in given else None, rating,
        "pain" if skip else "",
    )
    left, right = (int(given.get(side, round(60 * share))) for side in ("left", "right"))
    return bridge, ItemEntry(STRETCH, left, right), ItemEntry(ROLL, round(120 * share))


@dataclass
class Teller:
    """The course as it is known on each day, and what was decided on the way."""

    story: dict
    plans: list[EffectivePlan] = field(default_factory=list)
    pauses: list[PauseSpan] = field(default_factory=list)
    logs: list[tuple[int, LoggedSession]] = field(default_factory=list)      # (known from, session)
    mornings: list[tuple[int, Morning]] = field(default_factory=list)
    alerts: list[list[int | None]] = field(default_factory=list)
    ended: int | None = None

    def __post_init__(self):
        self.plans.append(EffectivePlan(1, START, plan_of(self.story)))
        self.later = []
        for line in self.story["course"]:
            days, word, *words = line.split()
            for day in days_of(days):
                if word in {"done", "nothing", "edit"}:
                    self.later.append((day, "log", [word, *words]))
                else:
                    self.later.append((day, word, words))

    def course(self, day: int) -> Course:
        """What is known at the end of that day."""
        return Course(
            START, on(self.ended) if self.ended is not None and self.ended <= day else None, tuple(self.plans),
            tuple(self.pauses), tuple(log for known, log in self.logs if known <= day),
            tuple(row for known, row in self.mornings if known <= day),
            sum(opened <= day and (closed is None or closed > day) for opened, closed in self.alerts),
        )

    def begin(self, day: int) -> None:
        """What the client does that day, and a resume."""
        for when, word, words in self.later:
            if when == day and word == "log":
                self._log(day, words)
            elif when == day and word == "resume":
                self.pauses[-1] = replace(self.pauses[-1], until=on(day))
            elif when == day and word == "pause":
                self.pauses.append(PauseSpan(on(day), None))
            elif when == day and word == "alert":
                if words == ["closed"]:
                    self.alerts[-1][1] = day
                else:
                    self.alerts.append([day, None])
            elif when == day and word == "end":
                self.ended = day

    def _log(self, day: int, words: list[str]) -> None:
        edit, words = (1, words[1:]) if words[0] == "edit" else (0, words)
        given = answers(words[1:])
        known = int(given.get("received", day))
        in_force = max(plan.number for plan in self.plans if plan.effective_from <= on(day))
        number = sum(log.day == on(day) and not log.edit for _, log in self.logs) - edit
        self.logs.append((known, LoggedSession(
            UUID(int=1000 + 10 * day + number), edit, on(day), int(given.get("shown", in_force)),
            int(given["before"]) if "before" in given else None, int(given["pain"]) if "pain" in given else None, 4, "",
            () if words[0] == "nothing" else entries(given),
        )))
        if "morning" in given:
            self.mornings.append((day + 1, Morning(on(day), int(given["morning"]), len(self.mornings))))

    def decide(self, day: int, proposals) -> None:
        """What the clinician does at the end of that day. What is accepted must have been suggested."""
        for when, word, words in self.later:
            if when != day or word not in {"accept", "revise"}:
                continue
            newest = self.plans[-1]
            if word == "revise":
                phases = tuple(phase(text) for text in " ".join(words).split(";"))
                self._write(day, replace(newest.plan, anchor=on(day + 1), phases=phases))
                continue
            key = KEYS[words[1]] if len(words) > 1 else None
            made = next(p for p in proposals if p.kind == words[0] and p.item_key == key)
            if made.kind == "pause_and_refer":
                self.pauses.append(PauseSpan(on(day), None))
                continue
            ladder = LADDERS[words[1]] if key else []
            plan = change.carried_out(newest.plan, made.kind, key, made.evidence.change, on(day), on(day + 1), ladder)
            assert plan is not None
            self._write(day, plan)

    def _write(self, day: int, plan) -> None:
        assert problems(plan.phases, plan.items) == {}
        self.plans.append(EffectivePlan(self.plans[-1].number + 1, on(day + 1), plan))

    def tell(self):
        """(day, course, folded, proposals) of each day through the last one anything is expected of."""
        for day in range(max(map(int, self.story["expect"])) + 1):
            self.begin(day)
            course = self.course(day)
            folded = fold(course, on(day), RULES.bands)
            proposals = () if course.ended else propose(course, folded, on(day), RULES, LADDERS)
            yield day, course, folded, proposals
            self.decide(day, proposals)
