"""Clients: who is already there, what is filled in, and what is left as it was."""

from datetime import date

import pytest

from clinic.people.importing.sheet import all_sheets
from clinic.people.models import AuditEvent, Client, Condition
from tests.importing.test_run import laid, run

HEAD = "Client No,First name,Surname,DOB,Phone,Email,Language,Precautions\n"


@pytest.fixture
def bring(cast, tmp_path):
    """bring(line, …) -> the run of a client sheet with these lines."""


    def brought(*lines, head=HEAD):
        return run(laid(tmp_path, head + "".join(f"{line}\n" for line in lines)), cast.site, all_sheets())

    return brought


def codes(done):
    return [(entry.line, entry.column, entry.code) for entry in done.entries]


def test_a_client_already_there_gets_the_number_of_the_sheet(cast, bring):
    done = bring("77,ADA,quill,1984-05-17,,,,")
    cast.ada.refresh_from_db()
    assert done.counts == {"updated": 1}
    assert cast.ada.external_ref == "77"
    assert AuditEvent.objects.get(client=cast.ada).detail == {"fields": ["external_ref"]}


def test_the_same_name_with_another_birth_date_is_somebody_else(cast, bring):
    assert bring("77,Ada,Quill,1990-01-01,,,,").counts == {"new": 1}
    assert Client.objects.filter(family_name="Quill").count() == 2


def test_one_person_under_two_numbers_is_refused(cast, bring):
    bring("77,Ada,Quill,1984-05-17,,,,")
    done = bring("78,Ada,Quill,1984-05-17,,,,")
    assert codes(done) == [(2, "Client No", "duplicate_client")]


def test_without_a_birth_date_the_phone_tells(cast, bring):
    assert bring(",Ada,Quill,,07700 900101,,,").counts == {"unchanged": 1}
    assert bring(",Ida,Quill,,07700 900101,,,").counts == {"new": 1}


def test_what_is_there_is_kept_and_remarked_on(cast, bring):
    bring("77,Ada,Quill,1984-05-17,,,,")
    done = bring("77,Ada,Quilliam,1985-05-17,07700 900999,other@client.example,,")
    cast.ada.refresh_from_db()
    assert done.counts == {"unchanged": 1}
    assert {entry.code for entry in done.entries} == {
        "name_differs", "birth_date_differs", "phone_differs", "email_differs",
    }
    assert (cast.ada.phone, cast.ada.birth_date) == ("+447700900101", date(1984, 5, 17))


def test_an_empty_mail_address_is_filled_in_and_can_sign_in(cast, bring):
    bring("5,Noor,,1999-12-19,,,,")
    assert bring("5,Noor,,1999-12-19,,noor@mail.example,,").counts == {"updated": 1}
    assert Client.objects.get(external_ref="5").user.email == "noor@mail.example"


def test_an_address_that_belongs_to_another_is_refused_and_fills_nothing(cast, bring):
    bring("5,Noor,,1999-12-19,,,,")
    done = bring("5,Noor,,1999-12-19,07700 900105,ada@client.example,,")
    assert codes(done) == [(2, "Email", "email_taken")]
    assert Client.objects.get(external_ref="5").phone == ""


def test_one_name_column_serves_both_orders(cast, bring):
    head = "Full name,Born\n"
    bring('"Núñez, Ángela",14/03/1981', "Zoë Hale,27/09/1968", "Plato,21/05/1980", head=head)
    found = set(Client.objects.exclude(pk__in=[cast.ada.pk, cast.bo.pk]).values_list("given_name", "family_name"))
    assert found == {("Ángela", "Núñez"), ("Zoë", "Hale"), ("Plato", "")}


def test_language_and_screening_answers(cast, bring):
    bring("9,Luz,Mar,1980-01-31,,,Español,osteoporosis; Recent surgery")
    luz = Client.objects.get(external_ref="9")
    assert luz.language == "es"
    assert set(Condition.objects.filter(client=luz).values_list("code", flat=True)) == {"osteoporosis", "recent_surgery"}


def test_a_name_alone_is_not_enough(cast, bring):
    assert codes(bring(",Yara,Dove,,,,,")) == [(2, "", "cannot_identify")]
