"""A person's rights: everything about them as a file, and out of the records for good."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import date, timedelta

import pytest
from django.core.serializers.json import DjangoJSONEncoder
from django.urls import reverse

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.models import Appointment
from clinic.people.models import AuditEvent, Client
from clinic.people.refusal import NotThere, Refusal
from clinic.trust import queries
from clinic.trust.actions.erase_person import erase_person
from clinic.trust.actions.export_person import export_person
from clinic.trust.actions.seal_trail import seal_trail
from clinic.trust.registered import own_models
from clinic.visits.models import Visit
from programs.following.models import Alert, SessionLog
from programs.prescribing.models import Program, Revision

pytestmark = pytest.mark.django_db
WORDS = "My dog Biscuit barked at the roller"


@pytest.fixture
def ada(cast, now):
    """Ada with a program, a log in her words, an alert, a visit with a note, a cancelled visit and an account."""
    program = Program.objects.create(
        client=cast.ada, episode=cast.ada_hip, clinician=cast.mina, title="Ada's hip", status="completed", starts=now.date(),
        ended=now.date(), created=now,
    )
    revision = Revision.objects.create(
        program=program, number=1, effective_from=now.date(), anchor=now.date(), author=cast.mina.user, reason=WORDS, at=now
    )
    SessionLog.objects.create(
        log_id="0b1f4f9e-3a55-4d3b-9c5e-3f0f1f1f1f1f", edit=1, program=program, revision=revision, day=now.date(),
        received=now, source="portal", by=cast.ada.user, pain_during=3, effort=5, rating="about_right", words=WORDS,
    )
    Alert.objects.create(
        answer_id="0b1f4f9e-3a55-4d3b-9c5e-3f0f1f1f1f2f", client=cast.ada, program=program, flag="numbness", at=now,
        closed_at=now, closed_by=cast.mina.user, note=WORDS,
    )
    Visit.objects.create(episode=cast.ada_hip, clinician=cast.mina, at=now, note=WORDS, by=cast.mina.user)
    visit = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=now + timedelta(days=1),
        now=now, room=cast.room, note=WORDS,
    )
    cancel_visit(by=cast.desk.user, appointment=visit, now=now, reason="client")
    return cast.ada


def opened(content):
    return zipfile.ZipFile(io.BytesIO(content))


def test_the_file_holds_every_record_and_no_secret(ada, cast, now):
    with opened(export_person(by=cast.lead.user, client=ada, now=now)) as file:
        whole = json.loads(file.read("person.json"))
        table = file.read("tables/following.SessionLog.csv").decode("utf-8-sig")
    records = whole["records"]
    assert records["people.Client"][0]["given_name"] == "Ada"
    assert records["following.SessionLog"][0]["words"] == WORDS
    assert WORDS in table
    assert records["booking.Appointment"][0]["clinician"] == "Mina"
    assert "password" not in records["people.User"][0]
    counted = {label: len(rows) for label, rows in records.items() if rows}
    assert counted["booking.Appointment"] == counted["visits.Visit"] == counted["prescribing.Program"] == 1
    assert AuditEvent.objects.filter(verb="export_person", client=ada).count() == 1


def test_nothing_of_another_client_is_in_it(ada, cast, now):
    text = opened(export_person(by=cast.lead.user, client=ada, now=now)).read("person.json").decode()
    assert "Marsh" not in text
    assert cast.bo.email not in text


def test_a_client_gets_their_own_and_nobody_elses(ada, cast, now, browse):
    answer = browse(ada.user).post(reverse("trust:export_own"))
    assert json.loads(opened(answer.content).read("person.json"))["records"]["people.Client"][0]["family_name"] == "Quill"
    for other in (cast.bo.user, cast.desk.user, cast.mina.user):
        with pytest.raises(NotThere):
            export_person(by=other, client=ada, now=now)


def everything():
    """Every stored value of our models and of the sign-in library, as one text."""
    from allauth.account.models import EmailAddress

    rows = [list(model._base_manager.values()) for model in [*own_models().values(), EmailAddress]]
    return json.dumps(rows, cls=DjangoJSONEncoder)


def test_after_erasing_no_table_knows_the_person(ada, cast, now):
    keys, before = (ada.email, ada.phone, "Quill", "Biscuit"), everything()
    assert all(word in before for word in keys)
    erase_person(by=cast.lead.user, client=ada, name="ada quill", now=now)
    assert [word for word in (*keys, "Ada") if word in everything()] == []


def test_what_is_left_is_counts_and_dates(ada, cast, now):
    erase_person(by=cast.lead.user, client=ada, name="Ada Quill", now=now)
    left = Client.objects.get(pk=ada.pk)
    assert (left.given_name, left.family_name, left.birth_date, left.email, left.phone) == ("Erased", "", None, "", "")
    assert left.archived == now
    assert not left.user.is_active
    log = SessionLog.objects.get()
    assert (log.pain_during, log.effort, log.words) == (3, 5, "")
    assert Appointment.objects.get().status == "cancelled"
    assert Client.objects.get(pk=cast.bo.pk).birth_date == date(1984, 5, 17)


def test_the_trail_stays_whole(ada, cast, now):
    seal_trail(now=now)
    erase_person(by=cast.lead.user, client=ada, name="Ada Quill", now=now)
    seal_trail(now=now)
    assert queries.verdict(now=now).whole
    assert AuditEvent.objects.filter(verb="erase_person", client=ada).count() == 1


def test_an_erased_client_can_no_longer_come_in(ada, cast, now, browse):
    browser = browse(ada.user)
    erase_person(by=cast.lead.user, client=ada, name="Ada Quill", now=now)
    assert browser.get(reverse("portal:today")).status_code == 302


def test_a_wrong_name_or_a_client_in_care_is_refused_and_nothing_is_lost(ada, cast, now):
    with pytest.raises(Refusal, match="not the client's name"):
        erase_person(by=cast.lead.user, client=ada, name="Ada Q", now=now)
    book_visit(
        by=cast.desk.user, client=ada, visit_type=cast.follow_up, clinician=cast.mina, start=now + timedelta(days=2), now=now,
        room=cast.room,
    )
    with pytest.raises(Refusal, match="visit to come"):
        erase_person(by=cast.lead.user, client=ada, name="Ada Quill", now=now)
    with pytest.raises(NotThere):
        erase_person(by=cast.mina.user, client=ada, name="Ada Quill", now=now)
    assert SessionLog.objects.get().words == WORDS


def test_exports_and_erasing_ask_who_is_there_once_more(ada, cast, browse, settings):
    settings.STEP_UP_REQUIRED = True
    browser = browse(cast.lead.user)
    for route in ("trust:export_client", "trust:erase_client"):
        answer = browser.post(reverse(route, args=[ada.public_id]))
        assert answer.status_code == 302
        assert answer.url.startswith("/account/reauthenticate/")
    answer = browser.post("/account/reauthenticate/", {"password": "a long enough passphrase"}, follow=True)
    # the library takes up the request it stopped: the first thing asked for is done
    assert browser.post(reverse("trust:export_client", args=[ada.public_id])).status_code == 200
