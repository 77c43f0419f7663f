"""How far a client may choose another level: typed, kept, copied, compared."""

from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.models import Program
from programs.prescribing.queries import levels_beside, newest_revision, plan_of, template_plan
from programs.prescribing.rules.diff import differences
from programs.prescribing.rules.plan_json import PlanError, plan_from_json, plan_to_json
from programs.prescribing.shaping import copy_of
from tests.prescribing.test_prescriber_page import typed


@pytest.fixture
def free(plan):
    """The plan with a choice for its first exercise."""
    return replace(plan, items=(replace(plan.items[0], leeway="either"), plan.items[1]))


def test_without_a_word_there_is_no_choice(plan):
    data = plan_to_json(plan)
    for item in data["items"]:
        assert item.pop("leeway") == "none"
    assert plan_from_json(data, plan.anchor) == plan


def test_it_is_read_as_it_was_written(free):
    assert plan_from_json(plan_to_json(free), free.anchor) == free


def test_what_is_no_choice_is_named(plan):
    data = plan_to_json(plan)
    data["items"][1]["leeway"] = "anything"
    with pytest.raises(PlanError) as caught:
        plan_from_json(data, plan.anchor)
    assert caught.value.fields == {"items.1.leeway": "Choose one of none, easier, either, not 'anything'."}


@pytest.mark.parametrize(
    ("leeway", "level", "numbers"),
    [("none", 2, ()), ("easier", 2, (1,)), ("easier", 1, ()), ("either", 2, (1, 3)), ("either", 1, (2,))],
)
def test_one_step_at_most_and_never_below_the_easiest(plan, leeway, level, numbers):
    assert replace(plan.items[0], leeway=leeway, level=level).neighbours == numbers


def test_only_levels_that_the_library_holds(library, free):
    first, second = free.items
    assert [level.number for level in levels_beside(free.items)[first.key]] == [2]
    assert levels_beside([replace(first, level=2)])[first.key][0].number == 1   # and no third
    assert second.key not in levels_beside(free.items)


def test_a_plan_without_a_choice_asks_the_database_nothing(library, plan, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert levels_beside(plan.items) == {}


def test_a_difference_says_it(plan, free):
    [change] = differences(plan, free)
    assert change.as_json() == {"code": "leeway", "where": "clamshell", "was": "none", "now": "either"}


def test_a_revision_keeps_it_and_says_what_changed(cast, browse, program, free, now):
    first = newest_revision(program)
    revise_program(
        by=cast.mina.user, program=program, plan=free, effective_from=now.date(), reason="Bad days", based_on=1, now=now
    )
    assert plan_of(newest_revision(program)).items[0].leeway == "either"
    assert plan_of(first).items[0].leeway == "none"
    page = browse(cast.mina.user).get(reverse("prescribing:program", args=[program.public_id])).content.decode()
    assert "Clamshell: the client may choose one level easier or harder." in page


def test_a_row_from_before_leaves_no_choice(program):
    item = newest_revision(program).items.all()[0]
    item.leeway = None
    revision = newest_revision(program)
    revision._prefetched_objects_cache["items"] = [item]
    assert plan_of(revision).items[0].leeway == "none"


def test_templates_and_copies_carry_it(cast, library, free, now):
    template = save_template(by=cast.mina.user, site=cast.site, name="Free", plan=free, now=now)
    assert [item.leeway for item in template_plan(template).items] == ["either", "none"]
    assert [item["leeway"] for item in copy_of(free).plan["items"]] == ["either", "none"]


def test_the_prescriber_asks_and_keeps_it(cast, browse, library):
    mina, today = browse(cast.mina.user), timezone.now().date()
    address = f"{reverse('prescribing:new')}?episode={cast.ada_hip.public_id}"
    page = mina.post(address, typed(today, do="preview", items__0__leeway="easier")).content.decode()
    assert "The client may choose" in page
    assert '<option value="easier" selected>One level easier</option>' in page
    bad = mina.post(address, typed(today, items__0__leeway="all")).content.decode()
    assert 'id="items.0.leeway-error"' in bad
    assert not Program.objects.exists()
    mina.post(address, typed(today, items__0__leeway="easier"))
    assert plan_of(newest_revision(Program.objects.get())).items[0].leeway == "easier"
