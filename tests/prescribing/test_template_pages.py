"""Keeping, renaming and describing templates, on pages and through the API; filters on the list of programs."""

import json

import pytest
from django.urls import reverse
from django.utils import timezone

from clinic.people.models import AuditEvent
from programs.prescribing.actions.edit_template import edit_template
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.models import Program, Template
from programs.prescribing.queries import template_plan
from programs.prescribing.rules.plan_json import plan_to_json


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def template(cast, library, plan):
    return save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=plan, now=timezone.now(), summary="Old")


@pytest.fixture
def house(library, plan):
    return Template.objects.create(slug="of-the-house", name="Of the house", plan=plan_to_json(plan))


def send(browser, method, address, **body):
    return browser.generic(method, address, json.dumps(body), content_type="application/json")


def test_a_template_gets_new_words_and_keeps_its_plan_and_address(cast, mina, template):
    address = reverse("prescribing:template-edit", args=["our-hip"])
    assert 'value="Our hip"' in mina.get(address).content.decode()
    plan = template.plan
    answer = mina.post(address, {"name": " Our long hip ", "summary": "New"})
    assert answer.url == reverse("prescribing:template", args=["our-hip"])
    template.refresh_from_db()
    assert (template.name, template.summary, template.plan) == ("Our long hip", "New", plan)
    event = AuditEvent.objects.get(verb="edit_template")
    assert (event.by, event.detail) == (cast.mina.user, {"changed": ["name", "summary"]})


@pytest.mark.parametrize(
    ("name", "summary", "status", "sentence"),
    [
        ("", "", 400, "1 to 80 characters"), ("x" * 81, "", 400, "1 to 80 characters"), ("???", "", 400, "letters among"),
        ("Fine", "x" * 301, 400, "300 characters at most"), ("other", "", 409, "There is a template of this name"),
    ],
)
def test_words_that_cannot_be_used_are_kept_on_the_form(cast, mina, template, plan, name, summary, status, sentence):
    save_template(by=cast.mina.user, site=cast.site, name="Other", plan=plan, now=timezone.now())
    answer = mina.post(reverse("prescribing:template-edit", args=["our-hip"]), {"name": name, "summary": summary})
    assert answer.status_code == status
    assert sentence in answer.content.decode()
    template.refresh_from_db()
    assert (template.name, template.summary) == ("Our hip", "Old")


def test_a_template_of_the_house_is_read_only(mina, house):
    assert "Change its name" not in mina.get(reverse("prescribing:template", args=["of-the-house"])).content.decode()
    assert mina.get(reverse("prescribing:template-edit", args=["of-the-house"])).status_code == 404
    assert send(mina, "PATCH", reverse("api:one-template", args=["of-the-house"]), name="Mine").status_code == 404


def test_a_program_is_kept_as_a_template_from_its_page(cast, mina, program):
    address = reverse("prescribing:template-from", args=[program.public_id])
    assert 'value="Hip start"' in mina.get(address).content.decode()
    assert "1 to 80 characters" in mina.post(address, {"name": ""}).content.decode()
    answer = mina.post(address, {"name": "A start for hips", "summary": ""})
    template = Template.objects.get()
    assert answer.url == reverse("prescribing:template", args=[template.slug])
    assert (template.site, [item["exercise"] for item in template.plan["items"]]) == (cast.site, ["clamshell", "side-plank"])


def test_through_the_api(mina, program):
    made = send(mina, "POST", reverse("api:templates"), program=str(program.public_id), name="For hips", summary="Six weeks")
    assert (made.status_code, made.json()["slug"], made.json()["plan"]["phases"][0]["kind"]) == (201, "for-hips", "kick_off")
    one = reverse("api:one-template", args=["for-hips"])
    assert send(mina, "PATCH", one, summary="Eight weeks").json()["summary"] == "Eight weeks"
    assert mina.get(one).json()["name"] == "For hips"
    again = send(mina, "POST", reverse("api:templates"), program=str(program.public_id), name="For hips")
    assert (again.status_code, again.json()["title"]) == (409, "name_taken")
    assert set(send(mina, "POST", reverse("api:templates"), name="x").json()["errors"]) == {"program"}
    assert set(send(mina, "PATCH", one, name="x" * 81).json()["errors"]) == {"name"}


def test_nobody_keeps_the_program_of_another_clinicians_client(cast, browse, program):
    theo = browse(cast.theo.user)
    answer = send(theo, "POST", reverse("api:templates"), program=str(program.public_id), name="Taken along")
    assert (answer.status_code, Template.objects.count()) == (404, 0)


def test_a_name_may_keep_its_own_letters(cast, template):
    edited = edit_template(by=cast.mina.user, template=template, name="OUR HIP", summary="", now=timezone.now())
    assert edited.name == "OUR HIP"


def test_programs_are_filtered_by_client_and_status(cast, mina, program, plan, now):
    address = reverse("api:programs")
    assert len(mina.get(address, {"client": cast.ada.public_id, "status": "active"}).json()["results"]) == 1
    assert mina.get(address, {"client": cast.bo.public_id}).json()["results"] == []
    assert mina.get(address, {"status": "completed"}).json()["results"] == []
    assert set(mina.get(address, {"client": "x", "status": "asleep"}).json()["errors"]) == {"client", "status"}


def test_a_filter_shows_nobody_elses(cast, browse, program):
    assert browse(cast.theo.user).get(reverse("api:programs"), {"client": cast.ada.public_id}).json()["results"] == []


def test_loading_the_house_templates_leaves_the_sites_own_alone(cast, template, tmp_path):
    assert load_templates(tmp_path) == {"new": 0, "changed": 0, "unchanged": 0}
    assert Template.objects.get().name == "Our hip"
    assert Program.objects.count() == 0


def test_a_filtered_list_takes_the_same_queries_for_one_and_three(
    cast, mina, program, plan, now, django_assert_num_queries
):
    address, asked = reverse("api:programs"), {"client": cast.ada.public_id}
    mina.get(address, asked)
    with django_assert_num_queries(3):
        assert len(mina.get(address, asked).json()["results"]) == 1
    for title in ("Again", "Once more"):
        end_program(by=cast.mina.user, program=program, status="completed", now=now)
        program = prescribe_program(
            by=cast.mina.user, episode=cast.ada_hip, plan=plan, title=title, starts=now.date(), now=now
        )
    with django_assert_num_queries(3):
        assert len(mina.get(address, asked).json()["results"]) == 3


def test_prescribe_from_a_kept_template(cast, mina, template, now):
    given = prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=template_plan(template, now.date()), title="From ours",
        starts=now.date(), now=now,
    )
    assert given.revisions.get().items.count() == 2
