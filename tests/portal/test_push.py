"""Ada lets her phone show notifications, by the API that her page uses too, and it ends with her sign-in."""

from __future__ import annotations

import json

import pytest

from clinic.people.models import Consent
from clinic.people.queries import consents
from clinic.reminders.models import PushDevice
from programs.portal.models import Device
from tests.reminders.push_service import Browser
from tests.reminders.test_push import PEM, public_key

ME = "/api/v1/me"
PHONE = Browser("https://push.example.com/to/ada")


@pytest.fixture(autouse=True)
def _key(settings):
    settings.PUSH_KEY = PEM


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


def post(browser, path, data):
    return browser.post(f"{ME}/{path}", json.dumps(data), content_type="application/json")


def test_a_device_is_added_and_removed(ada, cast):
    assert ada.get(f"{ME}/push").json() == {"key": public_key(PEM), "devices": 0}
    assert post(ada, "push", PHONE.told).status_code == 204
    assert post(ada, "push", PHONE.told).status_code == 204
    assert ada.get(f"{ME}/push").json()["devices"] == 1
    assert consents(cast.ada)["push"]
    assert post(ada, "push/remove", {"endpoint": PHONE.endpoint}).status_code == 204
    assert (ada.get(f"{ME}/push").json()["devices"], consents(cast.ada)["push"]) == (0, False)


def test_it_cannot_be_what_it_cannot_be(ada):
    answer = post(ada, "push", PHONE.told | {"endpoint": "https://169.254.169.254/latest"})
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["endpoint"])


def test_bo_removes_nothing_of_adas(ada, cast, browse):
    post(ada, "push", PHONE.told)
    assert post(browse(cast.bo.user), "push/remove", {"endpoint": PHONE.endpoint}).status_code == 204
    assert PushDevice.objects.get().client == cast.ada


def test_signing_out_ends_it_and_so_does_ending_the_device(ada, cast, browse):
    post(ada, "push", PHONE.told)
    ada.post("/account/logout/")
    assert not PushDevice.objects.exists()
    again, lost = browse(cast.ada.user), browse(cast.ada.user)
    post(lost, "push", PHONE.told)
    device = Device.objects.get(session_key=lost.session.session_key)
    again.post(f"/portal/devices/{device.public_id}/end/")
    assert not PushDevice.objects.exists()


def test_the_page_offers_it_only_where_the_clinic_has_a_key(ada, settings):
    page = ada.get("/portal/messages/").content.decode()
    assert f'data-push="{public_key(PEM)}"' in page
    assert "On my devices" not in page   # none yet
    settings.PUSH_KEY = ""
    assert "data-push" not in ada.get("/portal/messages/").content.decode()


def test_with_a_device_it_is_one_of_the_ways_and_can_be_unticked(ada, cast):
    post(ada, "push", PHONE.told)
    assert "On my devices" in ada.get("/portal/messages/").content.decode()
    hours = {"quiet_from": "21:00", "quiet_until": "08:00"}
    ada.post("/portal/messages/", {"channels": ["push"], **hours})
    assert consents(cast.ada) == {"email": False, "push": True}
    ada.post("/portal/messages/", hours)
    assert not any(consents(cast.ada).values())


def test_a_device_that_was_never_added_cannot_be_chosen(ada, cast):
    body = {"channels": ["push"], "quiet_from": "21:00", "quiet_until": "08:00"}
    answer = ada.generic("PUT", f"{ME}/reminders", json.dumps(body), content_type="application/json")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["channels"])
    assert Consent.objects.filter(client=cast.ada, channel="push").count() == 0
