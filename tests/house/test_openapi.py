"""The checked-in description of the API is the one that is served, and it is a valid OpenAPI 3.1 document."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from drf_spectacular.validation import validate_schema

FILE = Path(__file__).resolve().parents[2] / "clinic" / "project" / "openapi.json"


@pytest.fixture
def served(db, client):
    return client.get("/api/v1/openapi.json", headers={"Accept": "application/json"}).json()


def test_the_file_is_what_is_served(served):
    assert json.loads(FILE.read_text("utf-8")) == served, "run: python3 manage.py write_openapi"


def test_it_is_valid_openapi(served):
    assert served["openapi"].startswith("3.1")
    validate_schema(served)


def test_every_operation_has_an_id_of_its_own_and_says_what_it_answers(served):
    operations = [
        operation for path in served["paths"].values() for method, operation in path.items() if method != "parameters"
    ]
    ids = [operation["operationId"] for operation in operations]
    assert len(ids) == len(set(ids))
    assert all("_create" not in name and "_retrieve" not in name for name in ids), "named by hand, not by the library"
    assert all(operation["responses"] for operation in operations)
