"""Booking several at once: proposed first, each within its window, none in another's way; what cannot be is said."""

import re
from datetime import timedelta

import time_machine

from clinic.visits.models import Reassessment


def values(text):
    return re.findall(r'name="choice" value="([^"]+)"', text)


def test_each_gets_its_best_opening_and_nothing_is_booked_before_it_is_sent(cast, look, now, browse):
    day = now.date() + timedelta(days=2)
    first, second = look(day), look(day, reason="interval")
    browser = browse(cast.mina.user)
    with time_machine.travel(now, tick=False):
        text = browser.get("/reassessments/book/", {"look": [first.public_id, second.public_id]}).content.decode()
        chosen = values(text)
        assert Reassessment.objects.filter(appointment__isnull=False).count() == 0
        assert len(chosen) == 2
        assert len({value.split(" ")[2] for value in chosen}) == 2      # one clinician, two times
        answer = browser.post("/reassessments/book/", {"choice": chosen[:1]}, follow=True)
        assert answer.content.decode().count("Ada Quill: booked for") == 1
        assert Reassessment.objects.filter(appointment__isnull=False).count() == 1
        again = browser.post("/reassessments/book/", {"choice": chosen}, follow=True).content.decode()
        assert again.count("Ada Quill: booked for") == 1
        assert "It is booked already" in again
    booked = [row.appointment for row in Reassessment.objects.select_related("appointment__clinician")]
    assert [(visit.clinician, visit.starts.date()) for visit in booked] == [(cast.mina, day), (cast.mina, day)]


def test_what_is_somebody_elses_or_nonsense_is_not_there(cast, look, now, browse):
    hers = look(now.date())
    with time_machine.travel(now, tick=False):
        for user, key, status in (
            (cast.theo.user, hers.public_id, 404), (cast.mina.user, "nonsense", 404), (cast.desk.user, hers.public_id, 200),
        ):
            assert browse(user).get("/reassessments/book/", {"look": key}).status_code == status
        post = browse(cast.theo.user).post("/reassessments/book/", {"choice": f"{hers.public_id} x 2026-03-04T09:00"})
        assert post.status_code == 404
        answer = browse(cast.mina.user).post("/reassessments/book/", {"choice": f"{hers.public_id} x soon"}, follow=True)
        assert "Ada Quill: choose one of the openings." in answer.content.decode()
        assert "Nobody is chosen" in browse(cast.mina.user).get("/reassessments/book/").content.decode()
    assert not Reassessment.objects.filter(appointment__isnull=False).exists()
