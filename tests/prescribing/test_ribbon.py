import xml.etree.ElementTree as ET
from datetime import date, timedelta

from programs.prescribing.rules.ribbon import RibbonDay, ribbon_svg

DAY = date(2026, 3, 2)
SVG = "{http://www.w3.org/2000/svg}"


def days(*rows):
    return [RibbonDay(DAY + timedelta(n), *row) for n, row in enumerate(rows)]


def drawn(rows, **how):
    return ET.fromstring(ribbon_svg(rows, title="Ada's weeks", **how))


def marks(picture, name):
    return [element for element in picture.iter() if name in element.get("class", "").split()]


def test_the_title_is_read_aloud_and_escaped():
    text = ribbon_svg(days(("session", 60, 120)), title="<b>& a 'quote'")
    assert "<b>" not in text
    assert ET.fromstring(text).find(f"{SVG}title").text == "<b>& a 'quote'"


def test_nothing_in_it_needs_inline_style():
    assert "style" not in ribbon_svg(days(("session", 60, 120), ("paused",), ("silent", 60, 120)), title="t")


def test_the_band_thins_as_the_program_tapers():
    picture = drawn(days(("session", 300, 600), ("session", 300, 600), ("rest",), ("session", 100, 200)), height=42)
    heights = [float(bar.get("height")) for bar in marks(picture, "full")]
    assert heights == [40.0, 13.33]   # the like days are one shape; 200 of 600 seconds of 40 units


def test_the_minimum_is_drawn_inside_the_full_band():
    picture = drawn(days(("session", 300, 600)), height=42)
    full, minimum = marks(picture, "full")[0], marks(picture, "minimum")[0]
    assert float(minimum.get("height")) * 2 == float(full.get("height"))
    assert minimum.get("x") == full.get("x")


def test_done_is_filled_in_and_never_thicker_than_what_was_asked():
    picture = drawn(days(("session", 300, 600, 450), ("session", 300, 600, 5000)), height=42)
    assert [bar.get("height") for bar in marks(picture, "done")] == ["30", "40"]


def test_a_silent_day_a_day_not_done_and_a_day_ahead_look_different():
    silent = drawn(days(("silent", 300, 600)))
    zero = drawn(days(("session", 300, 600, 0)))
    ahead = drawn(days(("session", 300, 600, None)))
    assert [len(marks(picture, "silent")) for picture in (silent, zero, ahead)] == [1, 0, 0]
    assert [len(marks(picture, "zero")) for picture in (silent, zero, ahead)] == [0, 1, 0]


def test_rest_is_a_thread_and_paused_days_are_hatched():
    picture = drawn(days(("rest",), ("paused",)))
    assert [element.tag for element in marks(picture, "rest")] == [f"{SVG}line", f"{SVG}path"]
    assert len(marks(picture, "paused")) == 1


def test_today_is_marked_once():
    picture = drawn([RibbonDay(DAY, "rest", today=True), RibbonDay(DAY + timedelta(1), "rest")])
    assert [element.tag for element in marks(picture, "today")] == [f"{SVG}line", f"{SVG}path"]


def test_two_ribbons_can_share_a_scale():
    alone = drawn(days(("session", 100, 200)), height=42)
    beside = drawn(days(("session", 100, 200)), height=42, most=400)
    assert float(marks(alone, "full")[0].get("height")) == 2 * float(marks(beside, "full")[0].get("height"))


def test_no_days_is_an_empty_picture_and_a_year_stays_small():
    assert len(list(drawn([]))) == 1
    year = [("session", 300, 600)] * 7 + [("rest",), ("session", 300, 600)] * 180
    text = ribbon_svg(days(*year), title="A year")
    assert len(text) < 120_000
    assert all(0 <= float(bar.get("x")) <= 220 for bar in marks(ET.fromstring(text), "full"))
