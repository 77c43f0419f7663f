"""A red-flag answer: told at once, once, and open until a clinician closes it."""

from datetime import datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, transaction

from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.kinds import kind
from clinic.reminders.models import Message
from programs.following.actions.close_alert import close_alert
from programs.following.actions.raise_alert import raise_alert
from programs.following.models import Alert, ProgramState, Suggestion
from programs.following.queries import alert_for, alerts_for

ANSWER = UUID("22222222-2222-4333-8444-555555555555")


@pytest.fixture
def raised(cast, program, now) -> Alert:
    return raise_alert(by=cast.ada.user, client=cast.ada, answer_id=ANSWER, flag="chest_pain", now=now)


def test_the_desk_and_the_clinician_are_told_with_a_name_and_a_time_only(cast, raised):
    letters = Message.objects.filter(kind="red_flag")
    assert {letter.staff for letter in letters} == {cast.desk, cast.mina}
    for letter in letters:
        assert letter.values == {"first_name": "Ada", "time": "09:00", "url": "/alerts/"}
        wording = kind("red_flag").wordings["en"]
        said = f"{wording.subject} {wording.body}".format(**letter.values)
        assert not any(word in said for word in ("Quill", "chest", "hip", "pain"))


def test_it_knows_no_quiet_hours_and_asks_no_consent():
    assert (kind("red_flag").respects_quiet_hours, kind("red_flag").needs_consent) == (False, False)


def test_the_same_answer_sent_again_is_one_alert_and_no_new_mail(cast, program, raised, now):
    again = raise_alert(by=cast.ada.user, client=cast.ada, answer_id=ANSWER, flag="chest_pain", now=now + timedelta(1))
    assert again == raised
    assert (Alert.objects.count(), Message.objects.filter(kind="red_flag").count()) == (1, 2)


def test_another_clients_answer_id_is_refused(cast, raised, now):
    with pytest.raises(Refusal) as caught:
        raise_alert(by=cast.bo.user, client=cast.bo, answer_id=ANSWER, flag="chest_pain", now=now)
    assert caught.value.code == "answer_id_taken"
    assert Alert.objects.count() == 1


def test_an_answer_we_do_not_ask_for_is_refused(cast, program, now):
    with pytest.raises(Refusal) as caught:
        raise_alert(by=cast.ada.user, client=cast.ada, answer_id=ANSWER, flag="hiccups", now=now)
    assert list(caught.value.fields) == ["flag"]
    assert not Alert.objects.exists()


def test_a_client_without_a_program_is_heard_as_well(cast, now):
    alert = raise_alert(by=cast.bo.user, client=cast.bo, answer_id=ANSWER, flag="calf_swelling", now=now)
    assert alert.program is None
    assert set(Message.objects.values_list("staff__name", flat=True)) == {"Dara", "Theo"}


def test_it_outranks_everything_in_attention_and_asks_to_stop(cast, program, raised):
    state = ProgramState.objects.get(program=program)
    assert state.attention >= 1000
    assert state.reasons[0]["code"] == "red_flag"
    assert list(Suggestion.objects.filter(state="open").values_list("kind", flat=True)) == ["pause_and_refer"]


def test_a_clinician_closes_it_with_a_note(cast, program, raised, now):
    close_alert(by=cast.mina.user, alert=raised, note="Sent to the emergency department", now=now + timedelta(hours=1))
    raised.refresh_from_db()
    assert (raised.closed_by, raised.note) == (cast.mina.user, "Sent to the emergency department")
    assert ProgramState.objects.get(program=program).attention < 1000
    assert not Suggestion.objects.filter(state="open").exists()
    with pytest.raises(Refusal) as caught:
        close_alert(by=cast.mina.user, alert=raised, note="Again", now=now)
    assert caught.value.code == "already_closed"


@pytest.mark.parametrize("note", ["", "  ", "x" * 2001, "a\x00"])
def test_it_is_not_closed_without_a_note(cast, raised, note, now):
    with pytest.raises(Refusal) as caught:
        close_alert(by=cast.mina.user, alert=raised, note=note, now=now)
    assert list(caught.value.fields) == ["note"]
    with pytest.raises(IntegrityError), transaction.atomic():
        Alert.objects.filter(pk=raised.pk).update(closed_at=now)


@pytest.mark.parametrize("who", ["desk", "lead", "ada"])
def test_nobody_else_closes_it(cast, raised, who, now):
    with pytest.raises(NotThere):
        close_alert(by=getattr(cast, who).user, alert=raised, note="Done", now=now)


def test_a_mail_is_dropped_once_the_alert_is_closed(cast, program, raised, now):
    letter = Message.objects.filter(kind="red_flag").first()
    assert kind("red_flag").still_wanted(letter, now) is None
    close_alert(by=cast.mina.user, alert=raised, note="Called", now=now)
    assert kind("red_flag").still_wanted(letter, now) == "alert_closed"


def test_open_ones_come_first_and_only_to_those_who_may_see(cast, program, raised, now):
    newer = raise_alert(by=cast.bo.user, client=cast.bo, answer_id=uuid4(), flag="calf_swelling", now=now + timedelta(1))
    close_alert(by=cast.theo.user, alert=newer, note="Seen", now=now + timedelta(days=2))
    assert list(alerts_for(cast.desk.user)) == [raised, newer]
    assert list(alerts_for(cast.mina.user)) == [raised]
    assert list(alerts_for(cast.ada.user)) == []
    with pytest.raises(NotThere):
        alert_for(cast.theo.user, raised.public_id)


def test_the_time_in_the_mail_is_the_sites(cast, now):
    july = datetime(2026, 7, 1, 9, 0, tzinfo=now.tzinfo)
    raise_alert(by=cast.ada.user, client=cast.ada, answer_id=ANSWER, flag="chest_pain", now=july)
    assert Message.objects.first().values["time"] == "10:00"
