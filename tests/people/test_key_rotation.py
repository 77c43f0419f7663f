"""A new secret key: who comes back while the old one still counts stays signed in, and what only the old one signed ends."""

from __future__ import annotations

from django.core import signing

from tests.conftest import NOW

OLD, NEW = "o" * 50, "n" * 50


def inside(browser) -> bool:
    return browser.get("/clients/").status_code == 200


def test_a_session_lives_through_a_change_of_key_when_its_owner_comes_back_in_time(cast, browse, settings):
    settings.SECRET_KEY = OLD
    came, stayed_away = browse(cast.desk.user), browse(cast.lead.user)
    signed = signing.dumps({"at": str(NOW)})
    assert inside(came)
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    assert inside(came)
    assert signing.loads(signed) == {"at": str(NOW)}
    settings.SECRET_KEY_FALLBACKS = []
    assert inside(came)             # it was signed anew when they came
    assert not inside(stayed_away)


def test_without_the_old_key_everybody_signs_in_anew(cast, browse, settings):
    settings.SECRET_KEY = OLD
    came = browse(cast.desk.user)
    assert inside(came)
    settings.SECRET_KEY = NEW
    assert not inside(came)
