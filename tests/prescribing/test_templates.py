import json

import pytest

from clinic.people.models import Site
from clinic.people.refusal import NotThere, Refusal
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.models import Template
from programs.prescribing.queries import template_for, template_plan, templates_for
from programs.prescribing.rules.plan_json import plan_to_json


@pytest.fixture
def folder(tmp_path, plan):
    def write(file="hip", **other):
        data = {"name": "Hip", "summary": "For a quiet hip.", "plan": plan_to_json(plan), **other}
        (tmp_path / f"{file}.json").write_text(json.dumps(data))
        return tmp_path

    return write


def test_loading_is_idempotent_and_notices_a_change(library, folder):
    assert load_templates(folder()) == {"new": 1, "changed": 0, "unchanged": 0}
    assert load_templates(folder()) == {"new": 0, "changed": 0, "unchanged": 1}
    assert load_templates(folder(summary="Other words.")) == {"new": 0, "changed": 1, "unchanged": 0}
    assert Template.objects.get().summary == "Other words."


def test_a_bad_file_is_named_with_the_path_in_it_and_nothing_is_loaded(library, folder, plan):
    bad = plan_to_json(plan)
    bad["items"][0]["level"] = 9
    folder("a-good-one")
    with pytest.raises(ValueError, match=r"bad\.json: items\.0\.level: clamshell has no level 9"):
        load_templates(folder("bad", plan=bad))
    assert Template.objects.count() == 0


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        ({"name": ""}, "name: must be 1 to 80 characters"),
        ({"colour": "blue"}, "nothing else"),
        ({"plan": {"phases": [{"kind": "dance"}], "items": []}}, r"phases\.0\.kind"),
        ({"plan": {"phases": [], "items": []}}, "at least one phase"),
    ],
)
def test_each_fault_of_a_file_has_its_sentence(library, folder, other, sentence):
    with pytest.raises(ValueError, match=sentence):
        load_templates(folder(**other))


def test_a_file_that_is_not_json_is_named(library, tmp_path):
    (tmp_path / "torn.json").write_text("{")
    with pytest.raises(ValueError, match=r"torn\.json: is not JSON"):
        load_templates(tmp_path)


def test_a_saved_template_belongs_to_its_site(cast, library, plan, now):
    away = Site.objects.create(name="Away", zone="UTC", phone="+441632960199", emergency_number="999", region_code="GB")
    ours = save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=plan, now=now)
    theirs = save_template(by=cast.mina.user, site=away, name="Their hip", plan=plan, now=now)
    assert list(templates_for(cast.mina.user)) == [ours]
    assert template_plan(template_for(cast.mina.user, "our-hip"), plan.anchor) == plan
    with pytest.raises(NotThere):
        template_for(cast.mina.user, theirs.slug)
    assert list(templates_for(cast.desk.user)) == []
    assert list(templates_for(cast.ada.user)) == []


def test_a_template_needs_a_name_of_its_own(cast, library, plan, now):
    save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=plan, now=now)
    with pytest.raises(Refusal) as refused:
        save_template(by=cast.mina.user, site=cast.site, name="our  HIP", plan=plan, now=now)
    assert refused.value.code == "name_taken"
    with pytest.raises(Refusal) as refused:
        save_template(by=cast.mina.user, site=cast.site, name="!!!", plan=plan, now=now)
    assert "name" in refused.value.fields


def test_the_house_templates_fit_the_house_library(db):
    load_library()
    assert load_templates() == {"new": 4, "changed": 0, "unchanged": 0}
    assert load_templates()["unchanged"] == 4
    assert {template.slug for template in Template.objects.all()} == {
        "hip-and-glute-start", "neck-and-desk", "knee-strength", "ankle-return",
    }
