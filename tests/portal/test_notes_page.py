"""What Ada writes and reads, with and without the API; English and Spanish; no script needed."""

import uuid
from datetime import timedelta

import pytest

from programs.following.actions.write_note import write_note
from programs.following.models import Note
from tests.conftest import NOW

PAGE_QUERIES, LIST_QUERIES = 8, 3


@pytest.fixture
def ada(cast, browse):
    browser = browse(cast.ada.user)
    browser.get("/portal/help/")   # the first request renews the session
    return browser


@pytest.fixture
def from_mina(cast, program):
    def write(text="Keep it small", hours=0):
        return write_note(
            by=cast.mina.user, program=program, note_id=uuid.uuid4(), text=text, now=NOW - timedelta(hours=10 - hours)
        )

    return write


def test_today_and_weeks_say_that_a_note_waits(ada, from_mina):
    assert "from your clinician wait" not in ada.get("/portal/").content.decode()
    from_mina()
    for address in ("/portal/", "/portal/weeks/"):
        assert "1 note from your clinician waits for you." in ada.get(address).content.decode()
    assert ada.get("/api/v1/me/today").json()["unread_notes"] == 1


def test_reading_is_said_by_a_button_and_never_by_looking(ada, from_mina):
    note = from_mina()
    page = ada.get("/portal/notes/").content.decode()
    assert "Keep it small" in page
    assert not hasattr(Note.objects.get(), "read")
    assert ada.post("/portal/notes/read/", {"until": note.note_id}).status_code == 302
    assert "wait" not in ada.get("/portal/weeks/").content.decode().split("<h2")[0]


def test_writing_and_what_is_wrong_with_it(ada, program):
    sent = {"note_id": uuid.uuid4(), "text": "May I swim?"}
    assert "Sent. Your clinician sees it" in ada.post("/portal/notes/", sent, follow=True).content.decode()
    assert ada.post("/portal/notes/", sent).status_code == 302   # sent again: one note
    assert Note.objects.get().words == "May I swim?"
    bad = ada.post("/portal/notes/", {"note_id": uuid.uuid4(), "text": "z" * 2001})
    assert bad.status_code == 400
    assert "z" * 2001 in bad.content.decode()


def test_in_spanish(cast, ada, program):
    cast.ada.language = "es"
    cast.ada.save()
    page = ada.get("/portal/notes/").content.decode()
    assert "Escriba a su terapeuta" in page
    bad = ada.post("/portal/notes/", {"note_id": uuid.uuid4(), "text": "z" * 2001}).content.decode()
    assert "Una nota puede tener como máximo 2000 caracteres." in bad


def test_the_api_lists_and_takes_notes_once(ada, program, from_mina):
    theirs = from_mina()
    body = {
        "note_id": str(uuid.uuid4()), "program": str(program.public_id), "text": "May I swim?",
        "read_until": str(theirs.note_id),
    }
    answers = [
        ada.post("/api/v1/me/notes", body, content_type="application/json", headers={"Idempotency-Key": "k1"}).json()
        for _ in range(2)
    ]
    assert answers[0] == answers[1]
    assert ada.post("/api/v1/me/notes", body, content_type="application/json").json()["note_id"] == body["note_id"]
    rows = ada.get("/api/v1/me/notes").json()["results"]
    assert [(row["text"], row["from_client"], row["author"]) for row in rows] == [
        ("May I swim?", True, None), ("Keep it small", False, "Mina"),
    ]
    assert rows[1]["read_at"] is not None
    assert rows[0]["read_at"] is None


def test_the_api_names_what_is_wrong(ada, program, cast, browse):
    body = {"note_id": str(uuid.uuid4()), "program": str(program.public_id), "text": "Hi", "session": str(uuid.uuid4())}
    bad = ada.post("/api/v1/me/notes", body, content_type="application/json")
    assert (bad.status_code, list(bad.json()["errors"])) == (400, ["log_id"])
    other = browse(cast.bo.user).post("/api/v1/me/notes", body | {"session": None}, content_type="application/json")
    assert other.status_code == 404
    wrong_person = ada.post(
        "/api/v1/me/notes", body, content_type="application/json", headers={"Intervale-Person": str(cast.bo.public_id)}
    )
    assert wrong_person.json()["title"] == "other_person"


@pytest.mark.parametrize("count", [1, 3])
def test_both_lists_cost_the_same_for_one_and_three(ada, program, from_mina, django_assert_num_queries, count):
    for number in range(count):
        from_mina(hours=number)
    with django_assert_num_queries(PAGE_QUERIES):
        ada.get("/portal/notes/")
    with django_assert_num_queries(LIST_QUERIES):
        assert len(ada.get("/api/v1/me/notes").json()["results"]) == count
