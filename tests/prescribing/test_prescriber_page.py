from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clinic.people.models import Condition
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.models import Program
from programs.prescribing.queries import newest_revision, plan_of


@pytest.fixture
def today():
    return timezone.now().date()


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def template(cast, library, plan):
    return save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=plan, now=timezone.now())


@pytest.fixture
def address(cast):
    return f"{reverse('prescribing:new')}?episode={cast.ada_hip.public_id}"


def typed(today, **other):
    """The form for a kick-off and a maintenance with one exercise, as a browser sends it."""
    return {
        "title": "Hip start", "starts": today.isoformat(), "do": "give",
        "phases.0.kind": "kick_off", "phases.0.days": "7", "phases.0.days_per_week": "7",
        "phases.0.advance": "by_decision", "phases.0.sessions.minimum": "1", "phases.0.sessions.full": "2",
        "phases.1.kind": "maintenance", "phases.1.days": "", "phases.1.days_per_week": "2",
        "phases.1.advance": "by_date", "phases.1.sessions.minimum": "1", "phases.1.sessions.full": "1",
        "items.0.key": "", "items.0.exercise": "clamshell", "items.0.level": "1", "items.0.side": "each",
        "items.0.rounds.minimum": "1", "items.0.rounds.full": "1", "items.0.priority": "1", "items.0.note": "Slowly",
        "items.0.dose.type": "reps", "items.0.dose.sets.minimum": "1", "items.0.dose.sets.full": "2",
        "items.0.dose.reps.minimum": "8", "items.0.dose.reps.full": "12", "items.0.dose.tempo": "4",
        "items.0.dose.rest": "20",
        **{name.replace("__", "."): value for name, value in other.items()},
    }


def test_step_one_shows_each_template_with_minutes_and_ribbon(mina, template, address):
    page = mina.get(address).content.decode()
    assert "Begin with Our hip" in page
    assert page.count('class="ribbon"') == 1
    assert "Kick-off" in page


def test_step_two_is_filled_from_the_template(mina, template, address):
    page = mina.get(f"{address}&template=our-hip").content.decode()
    assert 'name="items.1.dose.holds.full" value="3"' in page
    assert "for one session" in page


def test_published_doses_are_shown_with_their_source(mina, library, address, today):
    answer = mina.post(address, typed(today, do="preview", items__0__dose__reps__full="30"))
    page = " ".join(answer.content.decode().split())
    assert "Clamshell, in numbers, 30 repetitions; published 8 to 12." in page
    assert "Garber CE et al. 2011" in page


def test_the_minutes_shown_are_those_worked_out_by_hand(mina, library, address, today):
    # in full 4 sets of 12 of 4 s on two sides, rests of 20 s, 15 s set-up, 5 s turning over
    answer = mina.post(address, typed(today, do="preview", items__0__dose__sets__full="4"))
    assert answer.context["session"] == (2 * 32 + 15 + 5, 2 * (4 * 48 + 3 * 20) + 15 + 5)
    assert "1 to 9 minutes" in answer.content.decode()


def test_giving_makes_the_program_that_was_typed(mina, library, address, today):
    answer = mina.post(address, typed(today))
    program = Program.objects.get()
    assert answer.url == reverse("prescribing:program", args=[program.public_id])
    plan = plan_of(newest_revision(program))
    assert (plan.phases[1].days, plan.items[0].note, plan.items[0].dose.reps.full) == (None, "Slowly", 12)
    assert mina.get(answer.url).status_code == 200


def test_an_error_keeps_everything_typed_and_says_where(mina, library, address, today):
    answer = mina.post(address, typed(today, items__0__dose__reps__full="lots", phases__0__days="0", title=""))
    page = answer.content.decode()
    assert answer.status_code == 400
    assert 'value="lots"' in page
    assert 'id="items.0.dose.reps-error"' in page
    assert "1 to 366 days" in page
    assert 'value="Slowly"' in page
    assert Program.objects.count() == 0


def test_a_plan_that_can_be_read_but_not_given_is_marked_too(mina, library, address, today):
    steeper = typed(today, phases__1__kind="taper", phases__1__sessions__full="6", phases__1__days_per_week="7", title="")
    page = mina.post(address, steeper).content.decode()
    assert "cannot ask for more sessions a week" in page
    assert "Give the program a title" in page


@pytest.mark.parametrize(
    ("do", "order"),
    [
        ("down:0", ["side-plank", "clamshell"]), ("up:1", ["side-plank", "clamshell"]), ("up:0", ["clamshell", "side-plank"]),
        ("remove:0", ["side-plank"]), ("add_item:roll-glute", ["clamshell", "side-plank", "roll-glute"]),
        ("remove:99999", ["clamshell", "side-plank"]), ("preview", ["clamshell", "side-plank"]),
        ("move:1:0", ["side-plank", "clamshell"]), ("move:0:0", ["clamshell", "side-plank"]),
        ("move:0:9", ["clamshell", "side-plank"]), ("move:x:0", ["clamshell", "side-plank"]),
    ],
)
def test_the_buttons_work_without_a_script(mina, library, address, today, do, order):
    first = {name: value for name, value in typed(today).items() if name.startswith("items.0.")}
    second = {name.replace("items.0.", "items.1."): value for name, value in first.items()}
    sent = typed(today, do=do) | second | {"items.1.exercise": "side-plank"}
    answer = mina.post(address, sent)
    assert answer.status_code == 200
    assert [item["exercise"] for item in answer.context["items"]] == order
    assert Program.objects.count() == 0


def test_phases_are_added_before_the_last_and_taken_out(mina, library, address, today):
    added = mina.post(address, typed(today, do="add_phase")).context["phase_rows"]
    assert [row["kind"] for row in added] == ["kick_off", "taper", "maintenance"]
    left = mina.post(address, typed(today, do="remove_phase:0")).context["phase_rows"]
    assert [row["kind"] for row in left] == ["maintenance"]


def test_the_usual_dose_of_a_level_is_taken_when_asked_for(mina, library, address, today):
    sent = typed(today, do="level_dose:0", items__0__level="2", items__0__dose__reps__full="99")
    item = mina.post(address, sent).context["items"][0]
    assert (item["level"], item["dose"]["reps"]) == (2, [8, 12])


def test_a_change_on_screen_brings_back_only_the_summary(mina, library, address, today):
    answer = mina.post(address, typed(today, do=""), headers={"HX-Request": "true"})
    page = answer.content.decode()
    assert "<form" not in page
    assert "for one session" in page
    broken = mina.post(address, typed(today, do="", items__0__level="x"), headers={"HX-Request": "true"})
    assert "Give a whole number from 1 to 20" in broken.content.decode()


def test_a_contraindication_asks_for_a_reason_and_takes_one(mina, cast, library, address, today):
    library.clamshell.precautions.create(condition="dvt", severity="do_not", reason="Not with a clot.")
    Condition.objects.create(client=cast.ada, code="dvt", since=today - timedelta(1))
    answer = mina.post(address, typed(today))
    assert answer.status_code == 409
    assert "Not with a clot." in answer.content.decode()
    assert mina.post(address, typed(today, override_reason="Cleared by the vascular team.")).status_code == 302


def test_a_new_program_does_not_start_in_the_past(mina, library, address, today):
    answer = mina.post(address, typed(today, starts=(today - timedelta(1)).isoformat()))
    assert "starts today or later" in answer.content.decode()
    assert "Give a day as" in mina.post(address, typed(today, starts="soon")).content.decode()


@pytest.mark.parametrize("episode", ["", "x", "00000000-0000-4000-8000-000000000000"])
def test_an_episode_that_is_not_there(mina, episode):
    assert mina.get(f"{reverse('prescribing:new')}?episode={episode}").status_code == 404


def test_a_stored_text_is_shown_as_text(mina, library, address, today):
    page = mina.post(address, typed(today, title="<script>x</script>", starts="")).content.decode()
    assert "<script>x" not in page
    assert "&lt;script&gt;x" in page


def test_a_form_without_exercises_or_phases_says_so(mina, library, address, today):
    bare = {name: value for name, value in typed(today).items() if "." not in name}
    page = mina.post(address, bare).content.decode()
    assert "A program needs at least one exercise." in page
    assert "A program needs at least one phase." in page
    quick = mina.post(address, bare | {"do": ""}, headers={"HX-Request": "true"}).content.decode()
    assert "needs at least one exercise" in quick


def test_an_empty_plan_begins_with_phases_and_no_exercise(mina, library, address):
    page = mina.get(f"{address}&template=none").content.decode()
    assert "No exercise yet." in page
