"""A migration may run while the version before it still serves: it adds, or it is named here with the reason it need not."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection
from django.db.migrations import operations as ops
from django.db.migrations.loader import MigrationLoader

from tests.house.walls import walls

OURS = ("clinic.", "programs.", "dashboards.")
CHOICES = "AlterField changes choices only, which no database knows of"
BEFORE_RELEASE = "written before the first release: no clinic runs the version before it"
# (app, migration): why the version before need not go on working, or does although the shape says otherwise
NAMED = {
    ("booking", "0002_cancel_reason"): BEFORE_RELEASE,
    ("booking", "0006_names_of_visit_types"): BEFORE_RELEASE,
    ("booking", "0007_waitlist"): CHOICES,
    ("people", "0007_push_channel"): CHOICES,
    ("reminders", "0007_push"): CHOICES,
    ("booking", "0010_group_visits"): BEFORE_RELEASE,
    ("booking", "0011_agreed_local_time"): BEFORE_RELEASE,
    ("following", "0003_state_rules"): BEFORE_RELEASE,
    ("following", "0007_kept_going"): BEFORE_RELEASE,
    ("library", "0002_other_languages"): BEFORE_RELEASE,
    ("people", "0003_tour_stop"): BEFORE_RELEASE,
    ("prescribing", "0003_days_and_times"): BEFORE_RELEASE,
    ("reminders", "0002_message_resends"): BEFORE_RELEASE,
    ("reminders", "0006_sweep"): "takes an index away, after others stand in for it: the version before only looks longer",
}


def _adds(operation, made: set[str]) -> bool:
    """Whether code that knows nothing of the operation goes on reading and writing, and no big table is locked for long."""
    if isinstance(operation, ops.CreateModel):
        made.add(operation.name.lower())
        return True
    if isinstance(operation, ops.AddField):
        # Django takes the default of a NOT NULL column away again: an INSERT of the version before would fail
        field, new = operation.field, operation.model_name.lower() in made
        return new or field.null or field.many_to_many or field.has_db_default()
    if isinstance(operation, ops.AddIndex | ops.AddConstraint):
        return operation.model_name.lower() in made   # on a table with rows it is built, or checked, under a lock
    if isinstance(operation, ops.RunPython | ops.RunSQL):
        return operation.reversible
    return type(operation).__name__ in {"BtreeGistExtension", "AddIndexConcurrently", "AddConstraintNotValid"}


def _taking() -> set[tuple[str, str]]:
    """Our migrations that do more than add."""
    found = set()
    for key, migration in MigrationLoader(None).disk_migrations.items():
        made: set[str] = set()
        if migration.__module__.startswith(OURS) and not all(_adds(each, made) for each in migration.operations):
            found.add(key)
    return found


def test_every_migration_adds_or_is_named_with_its_reason():
    # a new one: give the field null=True or db_default=…, build the index with AddIndexConcurrently, add the constraint with
    # AddConstraintNotValid and validate it in the next migration, or say in NAMED why it may take something away
    assert _taking() == set(NAMED)


def test_every_migration_can_be_undone():
    for key, migration in MigrationLoader(None).disk_migrations.items():
        if migration.__module__.startswith(OURS):
            assert all(operation.reversible for operation in migration.operations), key


def _counts() -> dict[str, int]:
    """Rows of each table of ours."""
    models = [model for model in apps.get_models() if model.__module__.startswith(OURS)]
    return {model._meta.label: model._base_manager.count() for model in models}


@pytest.mark.django_db(transaction=True)
def test_the_newest_step_of_each_app_goes_back_and_forth_over_rows(cast):
    """On SQLite a column that goes takes the hand-made triggers of its table along: the way back must set them up anew."""
    rows, stood = _counts(), walls(connection)
    loader = MigrationLoader(connection)
    ours = [key for key in loader.graph.leaf_nodes() if loader.graph.nodes[key].__module__.startswith(OURS)]
    try:
        for app, name in ours:
            before = [node for node in loader.graph.node_map[app, name].parents if node.key[0] == app]
            if before:
                call_command("migrate", app, before[0].key[1], verbosity=0)
    finally:
        call_command("migrate", verbosity=0)
    assert walls(connection) == stood
    assert _counts() == rows   # none of these steps makes a table that the cast has rows in
