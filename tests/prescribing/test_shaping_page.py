"""The prescriber's larger strokes: fit to time, tapers, finding, the client's view, keeping a template, copying."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clinic.people.models import AuditEvent, Condition
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Program, Template
from programs.prescribing.queries import newest_revision, plan_of
from programs.prescribing.templatetags.prescribing_tags import counted, rough_time
from tests.prescribing.test_prescriber_page import typed


@pytest.fixture
def today():
    return timezone.now().date()


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def address(cast):
    return f"{reverse('prescribing:new')}?episode={cast.ada_hip.public_id}"


def text_of(answer):
    return " ".join(answer.content.decode().split())


def two_items(today, **other):
    """The typed form with a second exercise of priority 2."""
    first = {name: value for name, value in typed(today).items() if name.startswith("items.0.")}
    second = {name.replace("items.0.", "items.1."): value for name, value in first.items()}
    return typed(today, **other) | second | {"items.1.exercise": "side-plank", "items.1.priority": "2"} | {
        name.replace("__", "."): value for name, value in other.items()
    }


def test_fit_lowers_the_lower_priority_and_says_so(mina, library, address, today):
    """One exercise in full: 15 s set-up and, on two sides, 2 x 12 x 4 s and 20 s of rest, and 5 s turning: 252 s; two are
    504 s and twice a day 1008 s. In 14 minutes a session has 420 s: the second must be 168 s at most. In one set of 10:
    2 x 40 + 20 = 100 s; of 12: 116 s; in two sets of 8: 2 x (64 + 20) + 20 = 188 s, too long. So one set of 12."""
    answer = mina.post(address, two_items(today, do="fit", fit_minutes="14"))
    first, second = answer.context["items"]
    assert (first["dose"]["sets"], first["dose"]["reps"]) == ([1, 2], [8, 12])
    assert (second["dose"]["sets"], second["dose"]["reps"]) == ([1, 1], [8, 12])
    page = text_of(answer)
    assert "What was given up" in page
    assert "Side plank: 1 set of 8 to 12 repetitions, 4 seconds each instead of 1 to 2 sets of 8 to 12" in page
    assert "Clamshell: 1" not in page


def test_fit_leaves_out_last_and_says_when_nothing_had_to_go(mina, library, address, today):
    # twice a day in 3 minutes: 90 s a session; the first takes 2 x 32 + 20 = 84 s at its least, the second the same
    left = mina.post(address, two_items(today, do="fit", fit_minutes="3"))
    assert [item["exercise"] for item in left.context["items"]] == ["clamshell"]
    assert "Side plank: left out" in text_of(left)
    assert "It fits as it is." in text_of(mina.post(address, two_items(today, do="fit", fit_minutes="60")))


@pytest.mark.parametrize(
    ("minutes", "sentence"),
    [("", "1 to 240 minutes"), ("many", "1 to 240 minutes"), ("-3", "1 to 240"), ("1", "it takes about 3 minutes a day")],
)
def test_minutes_that_cannot_be_used(mina, library, address, today, minutes, sentence):
    answer = mina.post(address, two_items(today, do="fit", fit_minutes=minutes))
    assert answer.status_code == 400
    assert sentence in text_of(answer)
    assert len(answer.context["items"]) == 2
    assert 'id="fit-error"' in answer.content.decode()


def test_a_taper_is_made_between_kick_off_and_maintenance(mina, library, address, today):
    answer = mina.post(address, typed(today, do="taper", taper_shape="linear", taper_weeks="4"))
    rows = answer.context["phase_rows"]
    assert [(row["kind"], row["days_per_week"], row["days"]) for row in rows] == [
        ("kick_off", 7, 7), ("taper", 7, 21), ("taper", 4, 7), ("maintenance", 2, None),
    ]


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"taper_weeks": "0"}, "Give 1 to 24 weeks."), ({"taper_shape": "round"}, "Choose one of step, linear, halving."),
        ({"phases__1__days_per_week": "7", "phases__1__sessions__full": "2"}, "too close together"),
        ({"phases__0__days_per_week": "1"}, "Maintenance asks for more"),
        ({"phases__0__kind": "maintenance"}, "the plan needs both"), ({"phases__0__days": "x"}, "whole number"),
    ],
)
def test_a_taper_that_cannot_be_made(mina, library, address, today, sent, sentence):
    answer = mina.post(address, typed(today, **{"do": "taper", "taper_shape": "linear", "taper_weeks": "4", **sent}))
    assert answer.status_code == 400
    assert sentence in text_of(answer)


def test_ticked_days_and_times_are_given_with_the_program(mina, library, address, today):
    ticked = {
        "phases.1.weekdays.MO": "on", "phases.1.weekdays.TH": "on", "phases.1.weekdays.SA": "on",
        "phases.1.times.evening": "on",
    }
    answer = mina.post(address, typed(today) | ticked)
    phase = plan_of(newest_revision(Program.objects.get())).phases[1]
    assert (phase.weekdays, phase.days_per_week, phase.times) == (("MO", "TH", "SA"), 3, ("evening",))
    assert "Monday, Thursday, Saturday, in the evening" in text_of(mina.get(answer.url))


def test_times_must_be_one_for_each_session(mina, library, address, today):
    answer = mina.post(address, typed(today) | {"phases.0.times.morning": "on"})
    assert "Choose one time of day for each session: 2, not 1." in text_of(answer)
    assert Program.objects.count() == 0


def test_finding_without_a_script_keeps_the_draft(mina, library, address, today):
    answer = mina.post(address, typed(today, do="find") | {"find.text": "glute", "find.kind": "rolling"})
    assert [row["exercise"].slug for row in answer.context["found"].rows] == ["roll-glute"]
    assert 'value="Slowly"' in answer.content.decode()
    assert "1 exercise found" in text_of(answer)


def test_a_level_finds_what_has_it_and_adds_it_at_that_level(mina, library, address, today):
    found = mina.post(address, typed(today, do="find") | {"find.level": "2"}).context["found"].rows
    assert {(row["exercise"].slug, row["level"].number) for row in found} == {("clamshell", 2), ("side-plank", 2)}
    added = mina.post(address, typed(today, do="add_item:side-plank:2")).context["items"]
    assert [(item["exercise"], item["level"]) for item in added] == [("clamshell", 1), ("side-plank", 2)]
    assert len(mina.post(address, typed(today, do="add_item:dance:9")).context["items"]) == 1


@pytest.mark.parametrize("asked", [{"find.region": "moon"}, {"find.text": "nothing like it"}, {"find.equipment": "x"}])
def test_nothing_found_says_so(mina, library, address, today, asked):
    assert "No exercise fits." in text_of(mina.post(address, typed(today, do="find") | asked))


def test_what_is_found_shows_the_clients_precautions(mina, cast, library, today):
    Condition.objects.create(client=cast.ada, code="dvt", since=today - timedelta(1))
    asked = {"episode": cast.ada_hip.public_id, "find.text": "roll"}
    page = text_of(mina.get(reverse("prescribing:find"), asked))
    assert "Do not do this" in page
    assert "A clot can come loose." in page
    assert "<html" not in page


@pytest.mark.parametrize("episode", ["", "x", "00000000-0000-4000-8000-000000000000"])
def test_finding_is_for_an_episode_of_ones_own(mina, episode):
    assert mina.get(reverse("prescribing:find"), {"episode": episode}).status_code == 404


def test_finding_takes_the_same_queries_for_one_and_three(mina, cast, library, django_assert_num_queries):
    asked = {"episode": cast.ada_hip.public_id}
    mina.get(reverse("prescribing:find"), asked)
    with django_assert_num_queries(7):
        assert len(mina.get(reverse("prescribing:find"), asked | {"find.text": "plank"}).context["found"].rows) == 1
    with django_assert_num_queries(7):
        assert len(mina.get(reverse("prescribing:find"), asked).context["found"].rows) == 3


def test_the_draft_as_the_client_will_see_it(mina, cast, library, address, today):
    page = text_of(mina.post(address, typed(today, do="show")))
    assert "Hello <bdi>Ada</bdi>" in page
    assert "Kick-off, day 1 of 7" in page
    assert "1 to 2 sets of 8 to 12 repetitions" in page
    assert "First left, then right" in page
    assert "From your clinician: Slowly" in page
    assert f"Stop and call {cast.site.emergency_number}" in page
    assert Program.objects.count() == 0
    assert mina.post(address, typed(today, do="show", items__0__level="x")).status_code == 400


def test_the_reason_for_an_override_is_asked_before_anything_is_refused(mina, cast, library, address, today):
    library.clamshell.precautions.create(condition="dvt", severity="do_not", reason="Not with a clot.")
    Condition.objects.create(client=cast.ada, code="dvt", since=today - timedelta(1))
    page = text_of(mina.post(address, typed(today, do="preview")))
    assert "Why this is safe for this client" in page
    mina.post(address, typed(today, override_reason="Cleared by the vascular team."))
    event = AuditEvent.objects.get(verb="override_contraindication")
    assert (event.by, event.detail["against"]) == (cast.mina.user, [["clamshell", "dvt"]])
    assert "vascular" not in str(event.detail)
    assert newest_revision(Program.objects.get()).reason == "Cleared by the vascular team."


def test_a_draft_is_kept_as_a_template_without_its_notes(mina, cast, library, address, today):
    answer = mina.post(address, typed(today, do="save_template", template_name="Quiet hips", template_summary="Two weeks."))
    template = Template.objects.get()
    assert (template.name, template.summary, template.site) == ("Quiet hips", "Two weeks.", cast.site)
    assert template.plan["items"][0]["note"] == ""
    assert "Kept as the template “Quiet hips”" in text_of(answer)
    assert 'value="Slowly"' in answer.content.decode()
    assert Program.objects.count() == 0
    again = mina.post(address, typed(today, do="save_template", template_name="Quiet hips"))
    assert (again.status_code, Template.objects.count()) == (409, 1)
    assert "There is a template of this name." in text_of(again)
    assert "1 to 80 characters" in text_of(mina.post(address, typed(today, do="save_template", template_name="")))


def test_a_program_of_ones_own_client_is_copied_without_its_notes(mina, cast, program, address, today):
    listed = text_of(mina.get(f"{address}&from=programs"))
    assert "Hip start" in listed
    assert "No program fits" in text_of(mina.get(f"{address}&from=programs&text=zebra"))
    form = mina.get(f"{address}&copy={program.public_id}")
    assert [(item["exercise"], item["key"], item["note"]) for item in form.context["items"]] == [
        ("clamshell", "", ""), ("side-plank", "", ""),
    ]
    assert form.context["draft"].texts["title"] == "Hip start"


def test_nobody_copies_from_another_clinicians_client(cast, browse, program):
    theo = browse(cast.theo.user)
    address = f"{reverse('prescribing:new')}?episode={cast.bo_neck.public_id}"
    assert "Hip start" not in text_of(theo.get(f"{address}&from=programs"))
    assert theo.get(f"{address}&copy={program.public_id}").status_code == 404
    assert theo.get(f"{address}&copy=x").status_code == 404


def test_the_list_to_copy_from_takes_the_same_queries_for_one_and_three(
    mina, cast, program, plan, address, now, django_assert_num_queries
):
    mina.get(f"{address}&from=programs")
    with django_assert_num_queries(5):
        mina.get(f"{address}&from=programs")
    for title in ("Hip again", "Hip once more"):
        end_program(by=cast.mina.user, program=program, status="completed", now=now)
        program = prescribe_program(
            by=cast.mina.user, episode=cast.ada_hip, plan=plan, title=title, starts=now.date(), now=now
        )
    with django_assert_num_queries(5):
        assert mina.get(f"{address}&from=programs").context["page"].paginator.count == 3


@pytest.mark.parametrize(
    ("number", "unit", "words"),
    [(1, "sets", "1 set"), (2, "sets", "2 sets"), (1, "days a week", "1 day a week"), (7.5, "seconds", "7.5 seconds")],
)
def test_a_number_with_its_unit(number, unit, words):
    assert counted(number, unit) == words


@pytest.mark.parametrize(("seconds", "words"),
    [(89, "89 seconds"), (90, "1½ minutes"), (120, "2 minutes"), (200, "3½ minutes")],
)
def test_a_rough_time(seconds, words):
    assert rough_time(seconds) == words
