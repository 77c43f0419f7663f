import re
from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.paper.words import phone_words
from programs.prescribing.queries import newest_revision, plan_of
from tests.prescribing.test_prescriber_page import typed


@pytest.fixture
def today():
    return timezone.now().date()


@pytest.fixture
def running(cast, library, plan, today):
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=replace(plan, anchor=today), title="Hip start", starts=today,
        now=timezone.now(),
    )


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


def address(name, program):
    return reverse(f"prescribing:{name}", args=[program.public_id])


def harder(plan, today):
    return replace(plan, anchor=today, items=(replace(plan.items[0], level=2), plan.items[1]))


def text_of(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_the_plan_is_said_in_words(mina, running):
    page = text_of(mina.get(address("program", running)))
    assert "1 to 2 sets of 8 to 12 repetitions" in page
    assert "each side" in page
    assert "When the clinician decides" in page
    assert "2 days a week" in page


def test_each_revision_says_what_it_changed(mina, cast, running, plan, today):
    revise_program(
        by=cast.mina.user, program=running, plan=harder(plan, today), effective_from=today + timedelta(2),
        reason="Ready for more", based_on=1, now=timezone.now(),
    )
    page = text_of(mina.get(address("program", running)))
    assert "Clamshell: level 2 instead of 1." in page
    assert "A change is waiting: revision 2" in page


def test_the_page_takes_the_same_queries_with_one_revision_and_three(
    mina, cast, running, plan, today, django_assert_num_queries
):
    mina.get(address("program", running))
    with django_assert_num_queries(15):
        mina.get(address("program", running))
    for based_on, changed in ((1, harder(plan, today)), (2, replace(plan, anchor=today))):
        revise_program(
            by=cast.mina.user, program=running, plan=changed, effective_from=today, reason="Other", based_on=based_on,
            now=timezone.now(),
        )
    with django_assert_num_queries(15):
        mina.get(address("program", running))


def test_the_templates_page_takes_the_same_queries_at_one_row_and_three(
    mina, cast, library, plan, django_assert_num_queries
):
    save_template(by=cast.mina.user, site=cast.site, name="One", plan=plan, now=timezone.now())
    mina.get(reverse("prescribing:templates"))
    with django_assert_num_queries(4):
        mina.get(reverse("prescribing:templates"))
    for name in ("Two", "Three"):
        save_template(by=cast.mina.user, site=cast.site, name=name, plan=plan, now=timezone.now())
    with django_assert_num_queries(4):
        page = mina.get(reverse("prescribing:templates"))
    assert page.content.decode().count('class="ribbon"') == 3
    assert "Side plank" in mina.get(reverse("prescribing:template", args=["two"])).content.decode()


def test_pausing_going_on_and_ending_from_the_page(mina, running):
    assert "1 to 200 characters" in mina.post(address("pause", running), {"reason": ""}).content.decode()
    mina.post(address("pause", running), {"reason": "Flu"})
    page = text_of(mina.get(address("program", running)))
    assert "Paused" in page
    assert "until further notice: Flu" in page
    mina.post(address("resume", running))
    assert "Today counts again" in text_of(mina.get(address("program", running)))
    mina.post(address("end", running), {"status": "completed"})
    page = text_of(mina.get(address("program", running)))
    assert "Completed" in page
    assert "End the program today" not in page


def test_the_lead_reads_without_buttons(cast, browse, running):
    page = text_of(browse(cast.lead.user).get(address("program", running)))
    assert "Hip start" in page
    assert "Pause from today" not in page


def revision_form(today, **other):
    form = typed(
        today, effective_from=today.isoformat(), anchor=today.isoformat(), count_from="before", reason="More", based_on="1"
    )
    return form | other


def test_a_change_from_the_form(mina, running, today):
    assert mina.get(address("revise", running)).status_code == 200
    answer = mina.post(address("revise", running), revision_form(today))
    assert answer.url == address("program", running)
    assert len(plan_of(newest_revision(running)).items) == 1


def test_a_change_based_on_an_older_revision_keeps_what_was_typed(mina, cast, running, plan, today):
    revise_program(
        by=cast.mina.user, program=running, plan=harder(plan, today), effective_from=today, reason="First",
        based_on=1, now=timezone.now(),
    )
    answer = mina.post(address("revise", running), revision_form(today))
    assert answer.status_code == 412
    assert "Clamshell: level 2 instead of 1." in text_of(answer)
    assert 'value="More"' in answer.content.decode()


def test_moving_on_proposes_the_next_phase_from_today(mina, running, today):
    assert "Move on to it" in text_of(mina.get(address("program", running)))
    form = mina.get(f"{address('revise', running)}?from_phase=2").context
    assert [row["kind"] for row in form["phase_rows"]] == ["taper", "maintenance"]
    assert form["draft"].texts["count_from"] == "afresh"


def test_the_handout_has_doses_a_grid_to_tick_and_when_to_stop(mina, cast, running):
    page = text_of(mina.get(address("handout", running)))
    assert "1 to 2 × 8 to 12 repetitions" in page
    assert page.count("☐ ☐") == 14   # two exercises, seven days, up to twice a day
    assert f"Stop and call {cast.site.emergency_number}" in page
    assert " ".join(phone_words(cast.site.phone).split()) in page   # `text_of` joins words with plain spaces
    assert "Quill" not in page       # paper is left lying about: the first name is enough
