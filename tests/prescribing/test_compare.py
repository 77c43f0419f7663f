"""Two revisions side by side in words."""

from dataclasses import replace

import pytest
from django.urls import reverse

from programs.library.rules.dose import Span
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.rules.plan import PhasePlan


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def address(program):
    return reverse("prescribing:compare", args=[program.public_id])


@pytest.fixture
def changed(cast, program, plan, now):
    """The same with the side plank taken out, a harder clamshell and fixed days at the end."""
    last = PhasePlan("maintenance", None, Span(1, 1), 2, weekdays=("MO", "TH"), times=("evening",))
    new = replace(plan, items=(replace(plan.items[0], level=2),), phases=(*plan.phases[:-1], last))
    return revise_program(
        by=cast.mina.user, program=program, plan=new, effective_from=now.date(), reason="Harder", based_on=1, now=now
    )


def text_of(answer):
    return " ".join(answer.content.decode().split())


def test_the_newest_beside_the_one_before(mina, address, changed):
    answer = mina.get(address)
    page = text_of(answer)
    assert (answer.context["old"].number, answer.context["new"].number) == (1, 2)
    assert "Clamshell: level 2 instead of 1." in page
    assert "Side plank is taken out." in page
    assert "Phase 3: Monday, Thursday instead of spread evenly." in page
    assert "Phase 3: in the evening instead of at any time." in page
    assert "Maintenance, without end: 1 session a day, 2 days a week" in page
    assert "Maintenance, without end: 1 session a day, Monday, Thursday, in the evening" in page
    assert page.count("Changed") == 2
    assert page.count("Taken out") == 1
    assert page.count("Alike") == 2


def test_any_two_and_what_is_no_number_falls_back(mina, address, changed):
    turned = mina.get(f"{address}?a=2&b=1")
    assert "Side plank is new, level 1." in text_of(turned)
    same = mina.get(f"{address}?a=2&b=2")
    assert "They ask for the same." in text_of(same)
    assert mina.get(f"{address}?a=x&b=99").context["new"].number == 2


def test_a_single_revision_stands_beside_itself(mina, address):
    assert "They ask for the same." in text_of(mina.get(address))


def test_the_program_page_leads_there(mina, program, changed):
    page = mina.get(reverse("prescribing:program", args=[program.public_id])).content.decode()
    assert f"{reverse('prescribing:compare', args=[program.public_id])}?b=2" in page


def test_the_number_of_queries_does_not_grow_with_the_revisions(
    mina, cast, program, plan, address, now, django_assert_num_queries
):
    mina.get(address)
    with django_assert_num_queries(7):
        mina.get(address)
    for number in (1, 2):
        revise_program(
            by=cast.mina.user, program=program, plan=replace(plan, items=plan.items[:number]), effective_from=now.date(),
            reason="Other", based_on=number, now=now,
        )
    with django_assert_num_queries(7):
        mina.get(address)
