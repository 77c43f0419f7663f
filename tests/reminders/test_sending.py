"""Whether a message may go now. Quiet hours over clock changes: London, 29 March and 25 October 2026 (IANA zone data)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.people.rules.zones import zone
from clinic.reminders.rules.sending import Recipient, Verdict, judge

ADA = Recipient(
    first_name="Ada", address="ada@client.example", language="en", zone="Europe/London", quiet_from=time(21),
    quiet_until=time(8), archived=False, account_open=True, consented=True,
)
MORNING = datetime(2026, 3, 2, 9, tzinfo=UTC)


def at(recipient=ADA, now=MORNING, useful=timedelta(days=1), consent=True, quiet=True) -> Verdict:
    return judge(
        recipient, now=now, not_after=now + useful, needs_consent=consent, respects_quiet_hours=quiet
    )


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"archived": True}, "archived"),
        ({"account_open": False}, "account_closed"),
        ({"address": ""}, "no_address"),
        ({"consented": False}, "no_consent"),
    ],
)
def test_what_stops_a_message_beside_one_that_goes(change, reason):
    assert at() == Verdict("send")
    assert at(replace(ADA, **change)) == Verdict("skip", reason)


def test_a_message_is_useful_up_to_and_including_its_last_moment():
    assert at(useful=timedelta(0)) == Verdict("send")
    assert at(useful=timedelta(seconds=-1)) == Verdict("skip", "expired")


def test_a_kind_that_needs_no_consent_goes_without():
    assert at(replace(ADA, consented=False), consent=False) == Verdict("send")


@pytest.mark.parametrize(
    ("now", "until"),
    [
        (datetime(2026, 1, 10, 21, 0, tzinfo=UTC), datetime(2026, 1, 11, 8, 0, tzinfo=UTC)),
        (datetime(2026, 1, 10, 7, 59, tzinfo=UTC), datetime(2026, 1, 10, 8, 0, tzinfo=UTC)),
        (datetime(2026, 3, 28, 22, 0, tzinfo=UTC), datetime(2026, 3, 29, 7, 0, tzinfo=UTC)),     # the short night
        (datetime(2026, 10, 24, 21, 0, tzinfo=UTC), datetime(2026, 10, 25, 8, 0, tzinfo=UTC)),   # the long night
        (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 8, 0, tzinfo=UTC)),   # 01:30, the first of two
        (datetime(2026, 10, 25, 1, 30, tzinfo=UTC), datetime(2026, 10, 25, 8, 0, tzinfo=UTC)),   # 01:30, the second
    ],
)
def test_quiet_hours_end_at_eight_by_the_clients_clock(now, until):
    assert at(now=now) == Verdict("wait", until=until)
    assert at(now=until) == Verdict("send")
    assert at(now=now, quiet=False) == Verdict("send")


def test_what_would_come_too_late_after_the_quiet_hours_is_skipped():
    night = datetime(2026, 1, 10, 23, 0, tzinfo=UTC)
    assert at(now=night, useful=timedelta(hours=9)).what == "wait"
    assert at(now=night, useful=timedelta(hours=8, minutes=59)) == Verdict("skip", "quiet_until_too_late")


@given(
    st.datetimes(datetime(2026, 3, 27), datetime(2026, 3, 31)) | st.datetimes(datetime(2026, 10, 23), datetime(2026, 10, 27)),
    st.sampled_from(["Europe/London", "America/New_York", "Australia/Lord_Howe", "UTC"]),
)
def test_nothing_ever_goes_inside_the_quiet_hours(moment, place):
    now = moment.replace(tzinfo=UTC)
    verdict = at(replace(ADA, zone=place), now=now)
    goes = now if verdict.what == "send" else verdict.until
    assert time(8) <= goes.astimezone(zone(place)).time() < time(21)
