"""One episode on one axis of days: rows against a recount day by day, the figure's data, the page and its doors."""

import json
import random
from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine

from clinic.booking.models import Appointment
from clinic.people.models import Episode
from clinic.people.refusal import NotThere
from clinic.visits.models import Measure, Result
from dashboards.figures import timeline as figures
from dashboards.pages import story
from dashboards.read_models import timeline as model
from dashboards.read_models.timeline_rows import lanes
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import DayRecord
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.resume_program import resume_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Revision
from programs.prescribing.rules.plan import from_phase
from tests.following.conftest import BRIDGE, START, done, hip_plan
from tests.visits.conftest import measures

__all__ = ["measures"]
DAY = timedelta(days=1)
EVIL = "</script><script>alert(1)</script>"


def at_level(plan, level):
    return replace(plan, items=(replace(plan.items[0], level=level), *plan.items[1:]))


@pytest.fixture
def visit(cast):
    """visit(day, status) -> a follow-up of Ada's with Mina at ten that day."""

    def booked(day, status="fulfilled", client=None, now=None):
        start = cast.ada.registered + day * DAY + timedelta(hours=1)
        return Appointment.objects.create(
            site=cast.site, client=client or cast.ada, clinician=cast.mina, room=cast.room, visit_type=cast.follow_up,
            starts=start, ends=start + timedelta(minutes=30), busy_from=start, busy_until=start + timedelta(minutes=35),
            status=status, booked_by=cast.desk.user, booked_at=start - DAY,
        )

    return booked


@pytest.fixture
def measured(cast, measures):
    """measured(code, day, value) -> a value of Ada's hip."""

    def put(code, day, value, side="none"):
        return Result.objects.create(
            episode=cast.ada_hip, measure=Measure.objects.get(code=code), side=side, value=value,
            at=cast.ada.registered + day * DAY, by=cast.mina.user,
        )

    return put


@pytest.fixture
def busy_life(cast, program, report, measured, visit, later):
    """Forty days of Ada's: two changes of level, a pause, days kept, half kept, logged as not done and silent."""
    dice = random.Random(7)
    for level, day in ((2, 9), (3, 26)):
        plan = at_level(hip_plan(), level)
        revise_program(
            by=cast.mina.user, program=program, plan=from_phase(plan, 2, START + day * DAY) if level == 3 else plan,
            effective_from=START + day * DAY,
            reason="Ready", based_on=Revision.objects.filter(program=program).count(), now=later(day - 1),
        )
        if level == 2:
            pause_program(by=cast.mina.user, program=program, reason="Away", now=later(14))
            resume_program(by=cast.mina.user, program=program, now=later(19))
    for day in [*range(14), *range(19, 40)]:
        roll = dice.random()
        if roll < 0.25:
            continue
        items = () if roll < 0.35 else done(share=dice.choice((0.3, 1.0, 1.3)))
        report(day, items=items, pain_during=dice.randint(0, 6), effort=dice.randint(2, 7), at=later(40))
    measured("psfs", 0, 3)
    measured("psfs", 30, 7)
    measured("pain-now", 0, 6)
    for day, status in ((0, "fulfilled"), (8, "noshow"), (20, "cancelled"), (30, "booked"), (45, "booked")):
        visit(day, status)
    follow_programs(now=later(40))
    return program


def read(cast, later, day=40, user=None):
    episode = Episode.objects.select_related("client__site").get(pk=cast.ada_hip.pk)
    return model.timeline(user or cast.mina.user, episode, later(day))[0]


def test_days_and_levels_are_those_of_a_recount_day_by_day(cast, busy_life, later):
    found = read(cast, later)
    today = later(40).date()
    rows = {row.day: row for row in found.days}
    kinds = set()
    asked = kept = 0
    credit = 0.0
    for record in DayRecord.objects.filter(program=busy_life, day__lte=today):
        row = rows.pop(record.day)
        kinds.add(row.kind)
        assert (row.full, row.minimum, row.done, row.pain) == (
            record.prescribed_full, record.prescribed_minimum, record.done_seconds, record.pain
        )
        assert (row.kind == "silent") == (record.state == "prescribed" and not record.logged and record.day < today)
        if record.prescribed_sessions and (record.day < today or record.logged):
            asked += record.prescribed_sessions
            kept += min(record.sessions_done, record.prescribed_sessions)
            credit += record.credit * record.prescribed_sessions
    assert rows == {}
    assert kinds >= {"done", "zero", "silent", "paused", "rest"}
    assert (found.dose.done, found.dose.asked) == (kept, asked)
    assert found.dose.share == pytest.approx(credit / asked)
    revisions = list(Revision.objects.filter(program=busy_life).order_by("number").prefetch_related("items__level"))
    for offset in range(41):
        day = START + offset * DAY
        revision = [row for row in revisions if row.effective_from <= day][-1]
        expected = {f"{busy_life.pk}:{item.key}": item.level.number for item in revision.items.all()}
        assert {run.lane: run.level for run in found.levels if run.first <= day <= run.last} == expected
    assert [(run.level, run.levels) for run in lanes(found.levels)[f"{busy_life.pk}:{BRIDGE}"]] == [(1, 3), (2, 3), (3, 3)]


def test_visits_pauses_and_revisions_stand_on_their_days(cast, busy_life, later):
    found = read(cast, later)
    assert [((row.day - START).days, row.kind) for row in found.visits] == [
        (0, "kept"), (8, "missed"), (20, "cancelled"), (30, "unclosed"), (45, "coming"),
    ]
    [pause] = found.pauses
    assert ((pause.first - START).days, (pause.last - START).days, pause.open) == (14, 18, False)
    assert [(row.number, (row.day - START).days) for row in found.revisions] == [(1, 0), (2, 9), (3, 26)]
    assert [[change.now for change in row.changes if change.code == "level"] for row in found.revisions] == [[], [2], [3]]
    assert (found.first, found.last, found.cut) == (START, START + 45 * DAY, False)


def test_the_band_of_error_and_the_goal_follow_the_measures_direction(cast, busy_life, later):
    pain, psfs = read(cast, later).measures   # MDC 2 and MCID 2; MDC 2 and MCID 2.3, as in fixtures/measures.json
    assert (pain.higher_is_better, pain.error, pain.goal) == (False, (4, 8), 4)
    assert (psfs.higher_is_better, psfs.error, psfs.goal) == (True, (1, 5), pytest.approx(5.3))
    assert replace(psfs, mdc=None, mcid=None).error is replace(psfs, mcid=None).goal is None
    assert replace(psfs, mdc=4.0).goal == 7                     # a change that cannot be told from error is no goal


def test_ten_queries_however_long_and_however_many_programs(cast, busy_life, later, django_assert_num_queries):
    end_program(by=cast.mina.user, program=busy_life, status="completed", now=later(41))
    episode = Episode.objects.select_related("client__site").get(pk=cast.ada_hip.pk)
    with django_assert_num_queries(10):
        model.timeline(cast.mina.user, episode, later(41))
    prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=hip_plan(START + 42 * DAY), title="Again", starts=START + 42 * DAY,
        now=later(42),
    )
    follow_programs(now=later(60))
    with django_assert_num_queries(10):
        found, _ = model.timeline(cast.mina.user, episode, later(60))
    assert len({row.day for row in found.days}) == len(found.days) == 61
    assert [row.number for row in found.revisions] == [1, 2, 3, 1]


def test_results_are_for_those_who_may_see_the_client(cast, busy_life, later):
    assert read(cast, later, user=cast.lead.user).measures
    for user in (cast.theo.user, cast.desk.user, cast.ada.user):
        with pytest.raises(NotThere):
            read(cast, later, user=user)


def traces(fig, name):
    return [trace for trace in fig.data if trace.name == name]


def test_the_figure_holds_what_the_rows_hold(cast, busy_life, later):
    found = read(cast, later)
    fig = figures.timeline(found)
    [done_bars] = traces(fig, "Done")
    assert dict(zip(done_bars.x, done_bars.y, strict=True)) == {
        f"{row.day}": round(row.done / 60, 1) for row in found.days if row.kind == "done"
    }
    [silent], [zero] = traces(fig, "No log"), traces(fig, "Logged as not done")
    assert len(silent.x) == found.dose.silent > 0
    assert len(zero.x) == found.dose.zero > 0
    assert silent.marker.symbol != zero.marker.symbol
    [pain] = traces(fig, "Pain during")
    assert [value for value in pain.y if value is not None] == [row.pain for row in found.days if row.pain is not None]
    paused = {f"{row.day}" for row in found.days if row.kind == "paused"}
    assert not paused & {x for trace in fig.data if trace.type == "bar" for x in trace.x}
    assert len([shape for shape in fig.layout.shapes if shape.type == "rect"]) == len(found.pauses)
    assert {trace.name for trace in fig.data} >= {"Visit kept", "Visit no-show", "Revision", "Level 1", "Level 2", "Level 3"}
    axes = {fig.layout[name].matches for name in fig.layout if name.startswith("xaxis")}
    assert len(axes) == 2                                       # one of its own, every other the same
    assert fig.layout.title.text.endswith("Patient-Specific Functional Scale from 3 to 7")


def test_the_story_says_it_in_sentences(cast, busy_life, later):
    episode = Episode.objects.select_related("client__site").get(pk=cast.ada_hip.pk)
    found, series = model.timeline(cast.mina.user, episode, later(40))
    text = " ".join(story.sentences(found, series, cast.site.zone))
    assert f"{found.dose.done} of {found.dose.asked} sessions, 95 % interval" in text
    assert "paused on 5 days, which do not count" in text
    assert "Bridge from level 1 to 3; 2 stayed at their level." in text
    assert "Patient-Specific Functional Scale: improved beyond MCID. Up 4" in text
    assert "Numeric pain rating: one value so far" in text
    assert "Visits: 1 kept, 1 no-show, 1 cancelled, 1 not closed yet; the next on 16 April 2026." in text


def test_a_break_in_the_answers_is_not_drawn_across():
    days = [START, START + 7 * DAY, START + 15 * DAY]
    xs, ys = figures._linked([(day, 3) for day in days])
    assert xs == [f"{days[0]}", f"{days[1]}", None, f"{days[2]}"]
    assert ys == [3, 3, None, 3]


def test_four_hundred_days_stay_small_and_older_ones_are_left_out(cast, busy_life, later):
    found = read(cast, later)
    run = found.levels[0]
    long = replace(
        found, first=START, last=START + 399 * DAY,
        days=tuple(replace(found.days[offset % 40], day=START + offset * DAY) for offset in range(400)),
        levels=tuple(replace(run, lane=f"{n}", exercise=f"A long name of an exercise {n}") for n in range(40)),
    )
    assert len(figures.timeline(long).to_json()) <= 200_000
    cut = read(cast, later, day=420)
    assert cut.cut
    assert (cut.last - cut.first).days == model.MOST_DAYS - 1
    assert min(row.day for row in cut.days) >= cut.first


def test_the_page_its_episodes_and_its_doors(cast, busy_life, browse, later):
    address = f"/clients/{cast.ada.public_id}/timeline/"
    other = Episode.objects.create(
        client=cast.ada, lead=cast.mina, region="knee", complaint="Knee", opened=START + 50 * DAY
    )
    with time_machine.travel(later(40), tick=False):
        mina = browse(cast.mina.user)
        newest = mina.get(address).content.decode()
        text = mina.get(address, {"episode": str(cast.ada_hip.public_id)}).content.decode()
        assert 'class="empty"' in newest
        assert text.count('<caption>') == 4
        assert "Bridge: level 2 instead of 1." in text
        assert mina.get(address, {"episode": "nonsense"}).status_code == 404
        assert mina.get(address, {"episode": str(cast.bo_neck.public_id)}).status_code == 404
        assert browse(cast.lead.user).get(address, {"episode": str(cast.bo_neck.public_id)}).status_code == 404
        rows = mina.get(f"{address}table.csv", {"episode": str(cast.ada_hip.public_id)}).content.decode().splitlines()
        assert len(rows) == 42
        for page in (f"/clients/{cast.ada.public_id}/", f"/programs/{busy_life.public_id}/"):
            assert f"{address}?episode={cast.ada_hip.public_id}" in mina.get(page).content.decode()
        desk = browse(cast.desk.user).get(f"/clients/{cast.ada.public_id}/").content.decode()
    assert "timeline" not in desk.lower()
    assert str(other.public_id) in text


def test_what_people_wrote_cannot_end_the_data(cast, busy_life, browse, later):
    revise_program(
        by=cast.mina.user, program=busy_life, plan=at_level(hip_plan(), 1), effective_from=START + 40 * DAY, reason=EVIL,
        based_on=3, now=later(40),
    )
    with time_machine.travel(later(40), tick=False):
        text = browse(cast.mina.user).get(f"/clients/{cast.ada.public_id}/timeline/").content.decode()
    assert "<script>alert" not in text
    assert "style=" not in text
    data = json.loads(text.split('type="application/json">')[1].split("</script>")[0])
    said = [words for trace in data["data"] for words in trace.get("customdata", []) if "alert(1)" in words]
    assert said
    assert all("<" not in words for words in said)


def test_a_client_without_an_episode_has_an_empty_timeline(cast, browse):
    Episode.objects.all().delete()
    answer = browse(cast.lead.user).get(f"/clients/{cast.ada.public_id}/timeline/")
    assert answer.status_code == 200
    assert 'class="empty"' in answer.content.decode()
    assert browse(cast.lead.user).get(f"/clients/{cast.ada.public_id}/timeline/table.csv").status_code == 404
