"""Visits: what becomes of one that is there already, and whom the time belongs to."""

import pytest

from clinic.booking.models import Appointment, Claim
from clinic.people.importing.sheet import all_sheets
from tests.importing.test_run import laid, run

HEAD = "Ref,Client,Date,Time,Practitioner,Type,Status\n"


@pytest.fixture
def bring(cast, tmp_path):
    """bring(line, …) -> the run of a visit sheet with these lines."""
    return lambda *lines: run(laid(tmp_path, HEAD + "".join(f"{line}\n" for line in lines)), cast.site, all_sheets())


def codes(done):
    return [(entry.line, entry.column, entry.code) for entry in done.entries]


def test_a_past_visit_is_followed_to_its_end(bring):
    assert bring("V1,Ada Quill,2026-02-16,09:00,Mina,follow-up,booked").counts == {"new": 1}
    assert bring("V1,Ada Quill,2026-02-16,09:00,Mina,follow-up,attended").counts == {"updated": 1}
    assert bring("V1,Ada Quill,2026-02-16,09:00,Mina,follow-up,attended").counts == {"unchanged": 1}
    assert Appointment.objects.get().status == "fulfilled"


def test_a_cancelled_visit_gives_its_time_back(bring):
    bring("V1,Ada Quill,2026-03-16,09:00,Mina,follow-up,booked")
    assert Claim.objects.exists()
    assert bring("V1,Ada Quill,2026-03-16,09:00,Mina,follow-up,cancelled").counts == {"updated": 1}
    assert not Claim.objects.exists()


def test_an_old_export_turns_nothing_back(bring):
    bring("V1,Ada Quill,2026-02-16,09:00,Mina,follow-up,DNA")
    done = bring("V1,Ada Quill,2026-02-16,09:00,Mina,follow-up,booked")
    assert codes(done) == [(2, "", "status_differs")]
    assert Appointment.objects.get().status == "noshow"


def test_another_time_is_kept_and_remarked_on(bring):
    bring("V1,Ada Quill,2026-03-16,09:00,Mina,follow-up,booked")
    done = bring("V1,Ada Quill,2026-03-16,10:00,Mina,follow-up,booked")
    assert done.counts == {"unchanged": 1}
    assert codes(done) == [(2, "", "start_differs")]


def test_a_visit_without_a_number_comes_once(bring):
    line = ",Ada Quill,2026-03-16 09:00,,Mina,follow-up,booked"
    assert bring(line).counts == {"new": 1}
    assert bring(line).counts == {"unchanged": 1}


def test_somebody_who_left_may_have_seen_people_but_will_not(bring):
    assert bring("V1,Ada Quill,2026-02-16,09:00,Gone,follow-up,attended").counts == {"new": 1}
    done = bring("V2,Ada Quill,2026-03-16,09:00,Gone,follow-up,booked")
    assert codes(done) == [(2, "Practitioner", "clinician_left")]


def test_an_overlap_is_refused_and_its_neighbour_is_not(bring):
    done = bring(
        "V1,Ada Quill,2026-03-16,09:00,Mina,follow-up,booked", "V2,Bo Marsh,2026-03-16,09:30,Mina,follow-up,booked",
        "V3,Bo Marsh,2026-03-16,09:35,Mina,follow-up,booked",
    )
    assert codes(done) == [(3, "Date", "slot_taken")]
    assert done.counts == {"new": 2, "refused": 1}


@pytest.mark.parametrize("zone_time", ["01:30", "02:30"])
def test_only_the_skipped_hour_is_refused(bring, zone_time):
    done = bring(f"V1,Ada Quill,2026-03-29,{zone_time},Mina,follow-up,booked")
    assert done.counts == ({"refused": 1} if zone_time == "01:30" else {"new": 1})
