"""The register names every field of every model, and says where the client is."""

from __future__ import annotations

import pytest

from clinic.trust.registered import fields_of, own_models, register
from clinic.trust.rules.register import gaps, read


def test_every_field_of_every_model_has_a_class():
    assert gaps(register(), {label: fields_of(model) for label, model in own_models().items()}) == []


def test_a_new_field_without_a_class_is_found():
    models = {label: fields_of(model) for label, model in own_models().items()}
    models["people.Client"].append("shoe_size")
    models["booking.Nickname"] = ["id"]
    found = set(gaps(register(), models))
    assert {"booking.Nickname: not in the register", "people.Client.shoe_size: no class"} <= found


@pytest.mark.django_db
def test_every_path_leads_to_a_client(cast):
    from clinic.trust.registered import rows_about

    labels = {entry.label for entry, rows in rows_about(cast.ada) if rows.count() >= 0}
    assert labels == {entry.label for entry in register().values() if entry.path is not None}


def test_a_model_that_points_at_clients_is_registered_as_about_them():
    """A model from which a foreign key leads to a client, in one step or more, may not be filed as the practice's."""
    models = own_models()
    about = {"people.Client"}
    while True:
        more = {
            label for label, model in models.items()
            if any(f.related_model and f.related_model._meta.label in about for f in model._meta.concrete_fields)
        }
        if more <= about:
            break
        about |= more
    # the chain covers rows of the trail by their key alone
    assert {label for label in about if register()[label].path is None} == {"trust.Seal"}


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"care": ["id"]}, "of or erase"),
        ({"of": "client", "nice": ["id"]}, "nice"),
        ({"of": "client", "care": ["id"], "who": ["id"]}, "two classes"),
        ({"of": None, "care": ["id"]}, "practice"),
        ({"of": "client", "care": ["id"], "erased": {"id": "x"}}, "not blanked"),
    ],
)
def test_a_faulty_entry_is_named(entry, said):
    with pytest.raises(ValueError, match=rf"some\.Model.*{said}"):
        read({"some.Model": entry})
