"""Where Ada is signed in, and how she wants to be reminded."""

from datetime import time, timedelta

import pytest

from clinic.people.models import AuditEvent
from clinic.people.queries import consents
from programs.following.models import DayNudge
from programs.portal.models import Device
from programs.portal.rules.devices import kind_of


def test_each_sign_in_is_a_device_and_can_be_ended_from_another(cast, browse):
    here, lost = browse(cast.ada.user), browse(cast.ada.user)
    page = here.get("/portal/devices/").content.decode()
    assert page.count("Sign this one out") == 1
    assert page.count("this one</span>") == 1
    other = Device.objects.get(session_key=lost.session.session_key)
    assert here.post(f"/portal/devices/{other.public_id}/end/", follow=True).status_code == 200
    assert lost.get("/portal/").status_code == 302
    assert here.get("/portal/").status_code == 200
    assert AuditEvent.objects.filter(verb="end_device", client=cast.ada).count() == 1
    assert "Sign this one out" not in here.get("/portal/devices/").content.decode()


def test_bo_cannot_end_a_device_of_adas(cast, browse):
    ada, bo = browse(cast.ada.user), browse(cast.bo.user)
    device = Device.objects.get(user=cast.ada.user)
    assert bo.post(f"/portal/devices/{device.public_id}/end/").status_code == 404
    assert ada.get("/portal/").status_code == 200


def test_a_device_is_heard_from_at_most_once_an_hour(cast, browse, clock, now):
    ada = browse(cast.ada.user)
    clock.move_to(now + timedelta(minutes=30))
    ada.post("/portal/devices/seen/")
    assert Device.objects.get().last == now
    clock.move_to(now + timedelta(hours=2))
    ada.post("/portal/devices/seen/")
    assert Device.objects.get().last == now + timedelta(hours=2)


def test_staff_are_not_listed(cast, browse):
    browse(cast.mina.user)
    assert Device.objects.count() == 0


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_of_devices_costs_the_same_for_one_and_three(cast, browse, django_assert_num_queries, count):
    browsers = [browse(cast.ada.user) for _ in range(count)]
    with django_assert_num_queries(6):
        browsers[0].get("/portal/devices/")


def test_a_long_list_of_devices_is_paged(cast, browse):
    browsers = [browse(cast.ada.user) for _ in range(11)]
    assert browsers[0].get("/portal/devices/").content.decode().count("Signed in ") == 10
    assert browsers[0].get("/portal/devices/?page=2").content.decode().count("Signed in ") == 1


@pytest.mark.parametrize(
    ("agent", "kind"),
    [
        ("Mozilla/5.0 (Linux; Android 15; Phone)", "android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X)", "apple"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 14_0)", "computer"), ("Mozilla/5.0 (X11; Linux x86_64)", "computer"),
        ("", "other"), ("curl", "other"),
    ],
)
def test_the_kind_of_a_device(agent, kind):
    assert kind_of(agent) == kind


def test_channels_and_quiet_hours_are_chosen_and_count_at_once(cast, browse):
    ada = browse(cast.ada.user)
    sent = {"channels": ["sms"], "quiet_from": "19:30", "quiet_until": "09:15"}
    answer = ada.post("/portal/messages/", sent, follow=True)
    assert "It counts at once" in answer.content.decode()
    cast.ada.refresh_from_db()
    assert (cast.ada.quiet_from, cast.ada.quiet_until) == (time(19, 30), time(9, 15))
    assert consents(cast.ada) == {"email": False, "sms": True}
    page = ada.get("/portal/messages/").content.decode()
    assert 'value="sms" id="id_channels_1" checked' in page.replace("  ", " ")
    assert 'value="19:30"' in page


def test_a_reminder_of_sessions_is_off_until_a_time_is_chosen(cast, browse):
    ada, sent = browse(cast.ada.user), {"channels": "email", "quiet_from": "21:00", "quiet_until": "08:00"}
    assert '<option value="" selected>Never</option>' in ada.get("/portal/messages/").content.decode()
    assert ada.post("/portal/messages/", sent | {"nudge_at": "17:30"}).status_code == 302
    assert '<option value="17:30" selected>17:30</option>' in ada.get("/portal/messages/").content.decode()
    answer = ada.post("/portal/messages/", sent | {"nudge_at": "21:00"})
    assert answer.status_code == 400
    assert "You want no messages at that time." in answer.content.decode()
    assert DayNudge.objects.get(client=cast.ada).at == time(17, 30)
    ada.post("/portal/messages/", sent | {"nudge_at": ""})
    assert not DayNudge.objects.exists()
    assert AuditEvent.objects.filter(verb="choose_nudge", client=cast.ada).count() == 2


def test_nothing_ticked_stops_every_reminder(cast, browse):
    browse(cast.ada.user).post("/portal/messages/", {"quiet_from": "21:00", "quiet_until": "08:00"})
    assert not any(consents(cast.ada).values())


def test_the_same_choice_again_writes_nothing(cast, browse):
    for _ in range(2):
        browse(cast.ada.user).post("/portal/messages/", {"channels": "email", "quiet_from": "21:00", "quiet_until": "08:00"})
    assert AuditEvent.objects.filter(client=cast.ada, verb__in=("set_consent", "choose_quiet_hours")).count() == 0


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"quiet_from": "25:00"}, "Write a time such as 21:00."),
        ({"quiet_until": ""}, "Write a time such as 21:00."),
        ({"nudge_at": "18:15"}, "Choose one of the answers."),
        ({"channels": "pigeon"}, "Choose one of the answers."),
        ({"channels": "sms"}, "We have no address of yours for this."),
    ],
)
def test_an_unusable_choice_is_said_and_nothing_changes(cast, browse, changes, sentence):
    cast.ada.phone = ""
    cast.ada.save()
    given = {"channels": "email", "quiet_from": "20:00", "quiet_until": "08:00"} | changes
    answer = browse(cast.ada.user).post("/portal/messages/", given)
    assert answer.status_code == 400
    assert sentence in answer.content.decode()
    cast.ada.refresh_from_db()
    assert str(cast.ada.quiet_from)[:5] == "21:00"
    assert consents(cast.ada) == {"email": True}
