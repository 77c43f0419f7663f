"""The guided session by a clock that the test holds: what the screen says, what a phone on the floor sounds and feels like.

The phone's speaker, buzzer and screen lock are stood in for by lists of what was asked of them (Web Audio, Vibration and
Screen Wake Lock of the W3C); the page's own script is the real one.
"""

from __future__ import annotations

import re
import uuid
from dataclasses import replace

import pytest
from playwright.sync_api import Page, expect

from programs.following.models import ItemLog, SessionLog
from programs.library.models import Level
from programs.library.rules.dose import dose_to_json
from programs.portal.vocab import StepKind
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import Plan
from tests.browser.test_portal_offline import phone, server_clock, settle  # noqa: F401  fixtures
from tests.portal.conftest import DRAWING, HOLD, PHASES, STARTS, exercises, items  # noqa: F401  a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
HEARD = """
  self.felt = []; self.heard = []; self.awake = [];
  Object.defineProperty(navigator, "vibrate", { value: (pattern) => { felt.push(pattern); return true; } });
  Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
    awake.push(kind);
    return { release: async () => { awake.push("released"); } };
  } } });
  self.AudioContext = class {
    currentTime = 0; destination = {};
    createGain() { return { gain: { setValueAtTime() {}, exponentialRampToValueAtTime() {} }, connect: (next) => next }; }
    createOscillator() {
      const frequency = { value: 0 };
      return { frequency, connect: (next) => next, start: () => heard.push(frequency.value), stop() {} };
    }
  };
"""
STEP, END, BEAT = 660, 880, 440   # Hz
LEAN, LIFT, THIGH = (str(uuid.UUID(int=number)) for number in (1, 2, 3))


@pytest.fixture
def program(cast, exercises, now):   # noqa: F811
    """A hold on each side in turn, a movement of both together, a roll of the left."""
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, items(3)), title="Hip at home", starts=STARTS,
        now=now,
    )


@pytest.fixture
def guided(phone, program, cast):   # noqa: F811
    """A phone that has opened the guided session."""
    page = phone(cast.ada)
    page.add_init_script(HEARD)
    settle(page, "/portal/session/")
    press(page, "Guide me through it")
    return page


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def taken(page: Page, name: str) -> list:
    """What was asked of the phone since the last look."""
    return page.evaluate(f"{name}.splice(0)")


def shown(page: Page) -> tuple[str, str]:
    """What the screen says and what comes next."""
    return page.locator("[data-says]").inner_text(), page.locator("[data-then-line]").inner_text()


def done() -> dict[str, tuple[int, int, str]]:
    return {str(row.item_key): (row.done_left, row.done_right, row.skipped) for row in ItemLog.objects.all()}


def test_a_whole_session_step_by_step(guided):
    page = guided
    hold = [("Left side, go, {} of 3", 30), ("Rest", 10)]
    left = [(words.format(1 + index // 2), seconds) for index, (words, seconds) in enumerate(hold * 3)][:-1]
    right = [(words.replace("Left", "Right"), seconds) for words, seconds in left]
    press(page, "Start")
    steps = [*left, ("Turn to the other side", 5), *right]
    for (words, seconds), following in zip(steps, [*steps[1:], None], strict=True):
        said, then = shown(page)
        assert said == words
        assert then == (f"Next: {following[0]}" if following else "")
        expect(page.locator("[data-clock]")).to_have_text(f"0:{seconds:02}")
        page.clock.run_for(1000 * seconds)
    expect(page.locator("[data-says]")).to_have_text("Done. Well done.")
    expect(page.get_by_role("button", name="I did it all. Next")).to_be_focused()
    press(page, "I did it all. Next")
    press(page, "Start")
    page.clock.run_for(1000 * (2 * 10 * 3 + 30))   # two sets of ten at three seconds each, a rest between
    press(page, "I did it all. Next")
    press(page, "Start")
    page.clock.run_for(1000 * 60)
    press(page, "I did it all. Next")
    press(page, "Save my session")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    # holds and the rests between them, as the form without a script counts them
    assert done() == {LEAN: (110, 110, ""), LIFT: (90, 0, ""), THIGH: (60, 0, "")}
    assert SessionLog.objects.get().started is not None


def test_each_repetition_is_paced_by_its_tempo(guided):
    page = guided
    press(page, "I did it all. Next")
    press(page, "Start")
    taken(page, "heard"), taken(page, "felt")
    for number in range(1, 11):
        expect(page.locator("[data-pace]")).to_have_text(f"{number} of 10")
        page.clock.run_for(3000)   # the tempo: three seconds each
    expect(page.locator("[data-says]")).to_have_text("Rest")
    expect(page.locator("[data-pace]")).to_have_text("")
    # nine beats lead from the first repetition to the tenth, then the step ends
    assert taken(page, "heard") == [BEAT] * 9 + [STEP]
    assert taken(page, "felt") == [40] * 9 + [150]


def test_a_step_is_heard_and_felt_and_the_end_is_another_sign(guided):
    page = guided
    press(page, "Start")
    assert (taken(page, "heard"), taken(page, "felt")) == ([], [])
    page.clock.run_for(30_000)
    assert (taken(page, "heard"), taken(page, "felt")) == ([STEP], [150])
    page.clock.run_for(195_000)
    assert taken(page, "heard") == [STEP] * 9 + [END]
    assert taken(page, "felt") == [150] * 9 + [[150, 100, 300]]


@pytest.mark.parametrize(("button", "silent", "still"), [("Sound", "heard", "felt"), ("Buzz", "felt", "heard")])
def test_each_sign_can_be_turned_off_for_good_on_this_phone(guided, button, silent, still):
    page = guided
    press(page, button)
    expect(page.get_by_role("button", name=button)).to_have_attribute("aria-pressed", "false")
    page.reload()
    page.wait_for_selector("#kept[data-ready]", state="attached")
    press(page, "Guide me through it")
    expect(page.get_by_role("button", name=button)).to_have_attribute("aria-pressed", "false")
    press(page, "Start")
    page.clock.run_for(41_000)
    assert taken(page, silent) == []
    assert len(taken(page, still)) == 2
    press(page, button)
    taken(page, silent)   # sound lets itself be heard when it is turned on
    page.clock.run_for(30_000)
    assert len(taken(page, silent)) == 1


def test_the_screen_stays_awake_while_the_timer_runs_and_only_then(guided):
    page = guided
    assert taken(page, "awake") == []
    press(page, "Start")
    assert taken(page, "awake") == ["screen"]
    press(page, "Pause")
    assert taken(page, "awake") == ["released"]
    press(page, "Go on")
    page.clock.run_for(1000)
    assert taken(page, "awake") == ["screen"]
    # the phone lets go when the page is out of sight; back in sight it is asked again
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.clock.run_for(1000)
    assert taken(page, "awake") == ["screen"]
    page.clock.run_for(300_000)
    assert taken(page, "awake") == ["released"]


def test_a_pause_in_the_moment_of_asking_leaves_nothing_awake(guided):
    page = guided
    page.evaluate(
        """() => {
            const start = document.querySelector("[data-run]");
            start.click();   // asks the phone, which answers later
            start.click();   // paused before it did
        }"""
    )
    page.clock.run_for(1000)
    assert taken(page, "awake") == ["screen", "released"]


def test_a_pause_stops_the_clock_and_the_count(guided):
    page = guided
    press(page, "Start")
    page.clock.run_for(12_000)
    press(page, "Pause")
    before = page.locator("[data-clock]").inner_text()
    page.clock.run_for(600_000)
    assert page.locator("[data-clock]").inner_text() == before == "0:18"
    press(page, "Go on")
    page.clock.run_for(8_000)
    press(page, "Stop here. Next")
    for _ in range(2):
        press(page, "I did it all. Next")
    press(page, "Save my session")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    assert done()[LEAN] == (20, 0, "")


@pytest.mark.parametrize(("words", "code"), [
    ("It hurt", "pain"), ("I had no time", "no_time"), ("I forgot", "forgot"), ("I felt unwell", "unwell"),
    ("I did not have the things for it", "no_equipment"),
])
def test_one_is_skipped_with_each_of_the_reasons(guided, words, code):
    page = guided
    page.get_by_text("Skip this one").click()
    assert page.locator("[data-skip]").count() == 5
    page.get_by_role("button", name=words).click()
    for _ in range(2):
        press(page, "I did it all. Next")
    press(page, "Save my session")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    assert done()[LEAN] == (0, 0, code)


def test_back_to_the_list_and_to_the_one_before(guided):
    page = guided
    expect(page.get_by_role("button", name="Back one")).to_be_hidden()
    press(page, "I did it all. Next")
    expect(page.get_by_role("heading", name="Hip lift")).to_be_visible()
    expect(page.get_by_role("heading", name="Half-kneeling lean")).to_be_hidden()
    press(page, "Back one")
    expect(page.get_by_role("heading", name="Half-kneeling lean")).to_be_visible()
    press(page, "Show the list")
    for name in ("Half-kneeling lean", "Hip lift", "Thigh roll"):
        expect(page.get_by_role("heading", name=name)).to_be_visible()
    lean = page.locator(f'[data-exercise="{LEAN}"]')
    expect(lean.get_by_role("radio", name="All of it")).to_be_checked()   # what was answered stands


def test_the_list_is_ticked_one_by_one(phone, program, cast):   # noqa: F811
    page = phone(cast.ada)
    settle(page, "/portal/session/")
    ticks = page.get_by_role("radio", name="All of it")
    assert ticks.count() == 3
    for tick in ticks.all():
        tick.check(force=True)
        expect(tick).to_be_checked()
    press(page, "Save my session")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    assert done() == {LEAN: (110, 110, ""), LIFT: (90, 0, ""), THIGH: (60, 0, "")}


def test_a_finished_session_is_told_in_under_twenty_seconds(guided):
    """By the keystroke-level model of Card, Moran and Newell (1980, CACM 23(7), table I; values from memory): 1.35 s to make
    up one's mind, 1.1 s to point, 0.1 s to press and 0.1 s to let go, for each touch."""
    page = guided
    for _ in range(3):
        press(page, "I did it all. Next")
    page.evaluate("self.touches = 0; document.addEventListener('click', (event) => { touches += event.isTrusted; }, true)")
    for question, answer in (("before", "2"), ("Worst pain", "3"), ("How hard", "4"), ("The whole", "About right")):
        group = page.get_by_role("group", name=re.compile(question))
        group.locator("label", has_text=re.compile(rf"^\s*{answer}\s*$")).click()
    page.evaluate("sessionStorage.setItem('touches', touches)")
    press(page, "Save my session")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    log = SessionLog.objects.get()
    assert (log.pain_before, log.pain_during, log.effort, log.rating) == (2, 3, 4, "about_right")
    touches = int(page.evaluate("sessionStorage.getItem('touches')")) + 1
    assert touches == 5
    assert touches * (1.35 + 1.1 + 0.2) < 20


@pytest.fixture
def levels(exercises):   # noqa: F811
    for number, name in ((2, "Middle"), (3, "With a weight")):
        Level.objects.create(
            exercise=exercises[0], number=number, name=name, cues=[], dose=dose_to_json(HOLD), drawing=DRAWING
        )


@pytest.mark.parametrize(("leeway", "offered"), [
    ("none", []), ("easier", ["Easier: Easy"]), ("either", ["Easier: Easy", "Harder: With a weight"]),
])
def test_another_level_only_where_the_clinician_left_the_choice(phone, cast, levels, now, leeway, offered):   # noqa: F811
    lean = replace(items(1)[0], level=2, leeway=leeway)
    prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, (lean,)), title="Hip at home", starts=STARTS,
        now=now,
    )
    page = phone(cast.ada)
    settle(page, "/portal/session/")
    press(page, "Guide me through it")
    names = page.get_by_role("radio", name=re.compile("^(Easier|Harder): ")).evaluate_all(
        "all => all.map(one => one.labels[0].innerText.trim())"
    )
    assert names == offered


@pytest.mark.parametrize("size", [(320, 640), (390, 780), (1280, 800)])
def test_the_timer_and_its_button_are_in_sight_without_scrolling(guided, size):
    page = guided
    page.set_viewport_size({"width": size[0], "height": size[1]})
    press(page, "I did it all. Next")
    for part in ("says", "clock", "run"):
        expect(page.locator(f"[data-{part}]")).to_be_in_viewport(ratio=1)
    over = page.locator("[data-run]").evaluate(
        """(button) => {
            const box = button.getBoundingClientRect();
            return button.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
        }"""
    )
    assert over


def test_no_step_of_the_timer_is_without_a_word(guided):
    assert {kind.value for kind in StepKind} == {"work", "rest", "change"}
    said = guided.locator("[data-guide]").evaluate("guide => ['work', 'rest', 'change'].map(kind => guide.dataset[kind])")
    assert said == ["Go", "Rest", "Turn to the other side"]
