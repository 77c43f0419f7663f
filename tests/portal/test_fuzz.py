"""Whatever is sent to the client's API: never a 500, and every answer is one that the description names.

The requests are drawn from the checked-in description's own schemas, with values around and beyond their bounds.
"""

from __future__ import annotations

import json
import uuid
from pathlib import Path

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

from programs.prescribing.queries import newest_revision
from tests.portal.conftest import items

SCHEMA = json.loads((Path(__file__).parents[2] / "clinic/project/openapi.json").read_text("utf-8"))
REGISTRY = Registry().with_resource("urn:api", Resource.from_contents(SCHEMA, default_specification=DRAFT202012))
OPERATIONS = [
    (path, method) for path, methods in SCHEMA["paths"].items() if path.startswith("/api/v1/me") for method in methods
]
WRITES = [(path, method) for path, method in OPERATIONS if "requestBody" in SCHEMA["paths"][path][method]]
ODD = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2), st.sampled_from(["\x00", "\ud800", "2026-13-45", 2**70]),
)


def _named(schema):
    while "$ref" in schema:
        schema = SCHEMA["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    return schema


def drawn(schema, known):
    """A strategy for mostly fitting values of a schema; one in a few is anything at all."""
    return st.one_of(_fitting(_named(schema), known), _fitting(_named(schema), known), _fitting(_named(schema), known), ODD)


def _fitting(schema, known):
    for choice in ("oneOf", "anyOf", "allOf"):
        if choice in schema:
            return st.one_of(*(drawn(one, known) for one in schema[choice]))
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    kind = schema.get("type", "string")
    if isinstance(kind, list):
        return st.one_of(*(_fitting({**schema, "type": one}, known) for one in kind))
    match kind:
        case "object":
            fields = {name: drawn(one, known) for name, one in schema.get("properties", {}).items()}
            required = {name: value for name, value in fields.items() if name in schema.get("required", ())}
            return st.fixed_dictionaries(required, optional={k: v for k, v in fields.items() if k not in required})
        case "array":
            return st.lists(drawn(schema["items"], known), max_size=3)
        case "integer":
            low, high = schema.get("minimum", 0), schema.get("maximum", 10)
            return st.one_of(st.integers(low, high), st.sampled_from([low - 1, high + 1]))
        case "boolean":
            return st.booleans()
        case "null":
            return st.none()
    match schema.get("format"):
        case "uuid":
            return st.one_of(st.sampled_from(known), st.uuids().map(str))
        case "date":
            return st.one_of(st.just("2026-03-02"), st.dates().map(str))
        case "date-time":
            return st.datetimes().map(lambda moment: f"{moment.isoformat()}Z")
    return st.text(max_size=30)


def checked(answer, path, method):
    """The answer is documented, its body fits its schema, and its media type is the documented one."""
    documented = SCHEMA["paths"][path][method]["responses"]
    assert str(answer.status_code) in documented, (path, answer.status_code, answer.content[:300])
    content = documented[str(answer.status_code)].get("content", {})
    if content:
        kind = answer["Content-Type"].partition(";")[0]
        assert kind in content, (kind, list(content))
        pointer = {"$ref": "urn:api#" + _pointer(path, method, answer.status_code, kind)}
        Draft202012Validator(pointer, registry=REGISTRY).validate(answer.json())


def _pointer(path, method, status, kind):
    parts = ["paths", path, method, "responses", str(status), "content", kind, "schema"]
    return "".join("/" + part.replace("~", "~0").replace("/", "~1") for part in parts)


@pytest.fixture
def ada(cast, program, browse):
    browser = browse(cast.ada.user)
    browser.raise_request_exception = False
    return browser


def sent(browser, method, path, raw, **values):
    """That body, by that method, to that path; a visit named in it is nobody's."""
    address = path.replace("{public_id}", str(uuid.UUID(int=9)))
    return browser.generic(method.upper(), address, raw, content_type="application/json", **values)


@pytest.mark.parametrize(("path", "method"), WRITES, ids=lambda part: part.rpartition("/")[2])
def test_no_body_breaks_a_write(ada, program, path, method):
    known = [
        str(program.public_id), str(newest_revision(program).public_id), *(str(item.key) for item in items(3)),
        str(uuid.UUID(int=8)),
    ]
    body = SCHEMA["paths"][path][method]["requestBody"]["content"]["application/json"]["schema"]

    @settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(drawn(body, known))
    def tried(value):
        with transaction.atomic():
            checked(sent(ada, method, path, json.dumps(value)), path, method)
            transaction.set_rollback(True)

    tried()


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"null", b"\xff\xfe", b'{"sessions": ' + b"[" * 5000])
@pytest.mark.parametrize(("path", "method"), WRITES, ids=lambda part: part.rpartition("/")[2])
def test_what_is_not_json_is_refused(ada, path, method, raw):
    answer = sent(ada, method, path, raw)
    # whose visit it is comes before what is asked of it
    assert answer.status_code == (404 if "{" in path else 400)
    checked(answer, path, method)


@pytest.mark.parametrize(("path", "method"), OPERATIONS, ids=lambda part: part.rpartition("/")[2])
def test_each_operation_answers_as_described(ada, browse, program, path, method):
    for browser in (ada, browse()):
        for query in ({}, {"program": "x"}, {"program": str(program.public_id)}, {"cursor": "x"}, {"days": "x"}):
            raw = "" if method == "get" else "{}"
            checked(sent(browser, method, path, raw, query_params=query), path, method)
