"""Work that the database broke off is done again; what was in the way and has gone counts as broken off."""

import pytest

from clinic.people import retrying
from clinic.people.refusal import Refusal
from clinic.people.retrying import Broken, in_one_transaction
from clinic.people.trouble import GoneMeanwhile, status_of

pytestmark = pytest.mark.django_db(transaction=True)


class Gone(Broken):
    def reason(self) -> Exception:
        return GoneMeanwhile("the claim in the way has gone")


@pytest.fixture(autouse=True)
def at_once(monkeypatch):
    monkeypatch.setattr(retrying, "PAUSE", 0)


@pytest.mark.parametrize("times", [1, 3])
def test_a_clash_that_has_gone_is_tried_again(times):
    turns = []

    @in_one_transaction
    def work():
        turns.append(1)
        if len(turns) <= times:
            raise Gone
        return "booked"

    assert work() == "booked"
    assert len(turns) == times + 1


def test_one_that_comes_and_goes_for_ever_is_refused_for_now():
    @in_one_transaction
    def work():
        raise Gone

    with pytest.raises(Refusal) as refused:
        work()
    assert (refused.value.code, refused.value.status) == ("try_again", 503)
    assert status_of(GoneMeanwhile("x")) == 503
