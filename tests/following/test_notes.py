"""Notes between Ada and Mina: written once, read once, answered, and nobody else's business."""

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction

from clinic.people.models import AuditEvent, Consent, Episode
from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.models import Message
from programs.following.actions.read_notes import read_notes
from programs.following.actions.write_note import write_note
from programs.following.messages import note_still_waits
from programs.following.models import Note, NoteRead
from programs.following.notes import conversations_for, notes_of, own_notes, unread_by_program, unread_for_client
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Revision
from tests.following.conftest import START, hip_plan

SECRET = "It pinches deep in the groin"
LIST_QUERIES, PAGE_QUERIES = 5, 7   # after the first request, which renews the session


@pytest.fixture
def write(cast, program, now):
    """write(who, text, …) -> the note of one of the cast, an hour after the last."""
    later = iter(range(1, 100))

    def say(who, text="Is it better?", **more):
        return write_note(
            by=who.user, program=program, text=text,
            **{"note_id": uuid4(), "now": now + timedelta(hours=next(later)), **more},
        )

    return say


def unread(program, *, from_client):
    return unread_by_program([program.pk], from_client=from_client).get(program.pk, 0)


def test_each_side_sees_what_waits_and_an_answer_reads_it(cast, program, write):
    asked = write(cast.ada, SECRET)
    assert (unread(program, from_client=True), unread(program, from_client=False)) == (1, 0)
    write(cast.mina, "Keep it small", read_until=asked.note_id)
    assert (unread(program, from_client=True), unread_for_client(cast.ada)) == (0, 1)
    assert [note.words for note in notes_of(cast.ada.user, program)] == ["Keep it small", SECRET]
    assert Note.objects.get(note_id=asked.note_id).read.by == cast.mina.user


def test_what_came_in_since_the_page_was_opened_stays_unread(cast, program, write, now):
    first, second = write(cast.ada), write(cast.ada)
    assert read_notes(by=cast.mina.user, program=program, until=first.note_id, now=now) == 1
    assert [note.note_id for note in Note.objects.filter(read__isnull=True)] == [second.note_id]
    assert read_notes(by=cast.mina.user, program=program, until=second.note_id, now=now) == 1
    assert read_notes(by=cast.mina.user, program=program, until=second.note_id, now=now) == 0
    assert NoteRead.objects.count() == 2


def test_nobody_reads_their_own_notes_for_the_other_side(cast, program, write, now):
    note = write(cast.ada)
    assert read_notes(by=cast.ada.user, program=program, until=note.note_id, now=now) == 0
    assert unread(program, from_client=True) == 1


def test_sent_twice_it_is_one_note(cast, program, write):
    note = write(cast.ada, SECRET)
    assert write(cast.ada, SECRET, note_id=note.note_id) == note
    with pytest.raises(Refusal, match="belongs to another note") as refused:
        write(cast.mina, "Mine", note_id=note.note_id)
    assert refused.value.code == "note_id_taken"
    assert Note.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "field"),
    [({"text": "  "}, "text"), ({"text": "x" * 2001}, "text"), ({"text": "a\x00b"}, "text"), ({"log_id": uuid4()}, "log_id")],
)
def test_what_cannot_be_used_is_named(cast, write, more, field):
    with pytest.raises(Refusal) as refused:
        write(cast.ada, **more)
    assert list(refused.value.fields) == [field]
    assert not Note.objects.exists()


def test_strangers_desk_and_lead_write_nothing(cast, write, program, now):
    note = write(cast.ada, SECRET)
    for person in (cast.bo, cast.theo, cast.desk, cast.lead):
        with pytest.raises(NotThere):
            write(person)
        with pytest.raises(NotThere):
            read_notes(by=person.user, program=program, until=note.note_id, now=now)
    assert not notes_of(cast.desk.user, program).exists()
    assert not notes_of(cast.theo.user, program).exists()
    assert notes_of(cast.lead.user, program).count() == 1
    assert not own_notes(cast.bo.user).exists()
    assert not conversations_for(cast.desk.user).exists()


def test_fifty_notes_a_day_are_enough(cast, write, program, now):
    Note.objects.bulk_create(
        Note(note_id=uuid4(), program=program, from_client=True, text="x", at=now, by=cast.ada.user) for _ in range(50)
    )
    with pytest.raises(Refusal) as refused:
        write(cast.ada)
    assert refused.value.status == 429
    assert write(cast.mina).text   # the other side is free to answer
    assert write(cast.ada, now=now + timedelta(days=1, seconds=1)).text


def test_words_of_a_session_wait_to_be_read_and_can_be_answered(cast, program, report, write):
    log_id = uuid4()
    report(0, words=SECRET, log_id=log_id)
    report(1)
    note = Note.objects.get()
    assert (note.words, note.text, note.log.day, unread(program, from_client=True)) == (SECRET, "", START, 1)
    answer = write(cast.mina, "Leave the stretch out", log_id=log_id, read_until=note.note_id)
    assert (answer.log.log_id, unread(program, from_client=True)) == (log_id, 0)


def test_an_edit_says_its_words_once_and_new_ones_anew(program, report):
    log_id = uuid4()
    revision = Revision.objects.get(program=program)
    report(0, words=SECRET, log_id=log_id)
    report(0, words=SECRET, log_id=log_id, edit=1, revision=revision)
    assert Note.objects.count() == 1
    report(0, words="Not in the groin, at the side", log_id=log_id, edit=2, revision=revision)
    assert [note.words for note in Note.objects.order_by("pk")] == [SECRET, "Not in the groin, at the side"]


def test_the_mail_says_that_there_is_a_note_and_nothing_of_it(cast, program, write):
    write(cast.mina, SECRET)
    write(cast.mina, "And drink enough")
    message = Message.objects.get(kind="note_waiting")
    assert message.values == {"first_name": "Ada", "url": "/portal/notes/"}
    assert message.client == cast.ada
    assert note_still_waits(message, message.due) is None
    last = write(cast.ada, "Thank you", read_until=Note.objects.first().note_id)
    assert note_still_waits(message, last.at) == "note_read"
    write(cast.mina, "See you on Monday")
    assert Message.objects.filter(kind="note_waiting").count() == 2


def test_no_mail_is_made_of_what_the_client_writes_and_no_text_is_in_the_audit(cast, write):
    write(cast.ada, SECRET)
    assert not Message.objects.filter(kind="note_waiting").exists()
    assert SECRET not in str(list(AuditEvent.objects.values()))
    assert AuditEvent.objects.filter(verb="write_note", client=cast.ada).count() == 1


def test_the_database_refuses_to_change_a_note(write, cast):
    note = write(cast.ada)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE following_note SET text = 'never said' WHERE id = %s", [note.pk])


# --- pages ---------------------------------------------------------------------------------------------------------
@pytest.fixture
def at_eleven(now):
    with time_machine.travel(now + timedelta(days=1, hours=2), tick=False):
        yield


def test_mina_reads_answers_and_the_count_goes(cast, program, report, browse, at_eleven):
    report(0, words="Pulls <b>hard</b>")
    mina = browse(cast.mina.user)
    address = f"/programs/{program.public_id}/notes/"
    assert "1 note not read" in mina.get("/caseload/?show=notes").content.decode()
    assert "1 note not read" in mina.get(f"/programs/{program.public_id}/").content.decode()
    assert "1 note not read" in mina.get(f"/clients/{cast.ada.public_id}/").content.decode()
    assert "1 not read" in mina.get("/notes/").content.decode()
    note = Note.objects.get()
    page = mina.get(f"{address}?about={note.log.log_id}").content.decode()
    assert "Answer about the session of Monday 2 March" in page
    assert "Pulls &lt;b&gt;hard&lt;/b&gt;" in page
    sent = {"note_id": uuid4(), "about": note.log.log_id, "until": note.note_id, "text": "Go easy"}
    assert "Sent." in mina.post(address, sent, follow=True).content.decode()
    assert "not read" not in mina.get("/caseload/").content.decode()
    assert "nobody. That is good news" in mina.get("/caseload/?show=notes").content.decode()


def test_bad_input_keeps_what_was_typed(cast, program, browse, at_eleven):
    answer = browse(cast.mina.user).post(f"/programs/{program.public_id}/notes/", {"note_id": uuid4(), "text": "y" * 2001})
    assert answer.status_code == 400
    assert "A note can have 2000 characters at most." in answer.content.decode()
    assert "y" * 2001 in answer.content.decode()


def test_the_desk_never_sees_the_text(cast, program, write, browse, at_eleven):
    write(cast.ada, SECRET)
    dara = browse(cast.desk.user)
    for address in ("/booking/", f"/clients/{cast.ada.public_id}/", "/alerts/", "/messages/", "/reassessments/"):
        page = dara.get(address)
        assert page.status_code == 200
        assert SECRET not in page.content.decode()
    assert dara.get(f"/programs/{program.public_id}/notes/").status_code == 404
    assert dara.get("/notes/").status_code == 404


@pytest.mark.parametrize("count", [1, 3])
def test_the_pages_take_the_same_queries(cast, program, write, browse, now, at_eleven, django_assert_num_queries, count):
    for number in range(count):
        write(cast.ada)
        write(cast.mina)
        another = Episode.objects.create(
            client=cast.ada, lead=cast.mina, region="knee", side="left", complaint=f"Knee {number}", opened=START
        )
        further = prescribe_program(
            by=cast.mina.user, episode=another, plan=hip_plan(), title="Knee", starts=START, now=now
        )
        write_note(by=cast.mina.user, program=further, note_id=uuid4(), text="Hello", now=now)
    mina = browse(cast.mina.user)
    mina.get("/notes/")
    with django_assert_num_queries(LIST_QUERIES):
        assert mina.get("/notes/").content.decode().count('class="card note-entry"') == count + 1
    with django_assert_num_queries(PAGE_QUERIES):
        page = mina.get(f"/programs/{program.public_id}/notes/").content.decode()
    assert page.count('class="said-note') == 2 * count


def test_a_client_without_consent_gets_no_mail(cast, program, write, now):
    """The outbox asks for consent when it sends: tests/reminders. Here: this kind does ask for it."""
    from clinic.reminders.kinds import kind

    Consent.objects.create(client=cast.ada, channel="email", granted=False, at=now, by=cast.ada.user)
    write(cast.mina)
    assert kind("note_waiting").needs_consent
    assert kind("note_waiting").respects_quiet_hours
