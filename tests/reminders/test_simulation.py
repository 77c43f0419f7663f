"""Drawn weeks: nothing comes twice, at night, too late or against a wish, nothing due is lost, every doubt can be seen.

INTERVALE_SIMULATED_SCRIPTS says how many scripts are told (a script is days to weeks); a failing one is kept as an example.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from clinic.people.models import Client
from tests.reminders.simulation import Weeks, watched

SCRIPTS = int(os.environ.get("INTERVALE_SIMULATED_SCRIPTS", "25"))
# a spring, an autumn and an ordinary week; clock changes are London's and New York's of the IANA time zone database
STARTS = [datetime(2026, 3, 4, 9, tzinfo=UTC), datetime(2026, 10, 22, 9, tzinfo=UTC), datetime(2026, 6, 1, 7, 40, tzinfo=UTC)]
who = st.sampled_from(["ada", "bo"])
ANSWERS = [
    *["ok"] * 12, "later", "later", "no_such_address", "refused", "down", "lost", "lie", "killed before", "killed after",
    "second", "slow",
]
steps = st.one_of(
    st.tuples(st.just("book"), who, st.integers(0, 9), st.integers(9, 16)),
    st.tuples(st.just("book"), who, st.integers(0, 3), st.integers(9, 16)),
    st.tuples(st.just("move"), st.integers(0, 5), st.integers(0, 9), st.integers(9, 16)),
    st.tuples(st.just("cancel"), st.integers(0, 5)),
    st.tuples(st.just("note"), who, st.sampled_from(["note", "once", "urgent"]), st.sampled_from([1, 5, 30])),
    st.tuples(st.just("burst"), st.sampled_from(["note", "once", "urgent"]), st.integers(3, 15)),
    st.tuples(st.just("consent"), who, st.sampled_from(["email", "sms"]), st.booleans()),
    st.tuples(st.just("address"), who),
    st.tuples(st.just("archive"), who, st.booleans()),
    st.tuples(st.just("retry")),
    st.tuples(st.just("away"), st.sampled_from([1, 6, 30])),
    st.tuples(st.just("pass_hours"), st.sampled_from([1, 1, 3, 15, 40])),
    st.tuples(st.just("pass_days"), st.sampled_from([2, 7])),
    st.tuples(st.just("kill"), st.sampled_from(["claimed", "judged"])),
)
scripts = st.tuples(
    st.sampled_from(STARTS), st.lists(steps, min_size=3, max_size=40), st.lists(st.sampled_from(ANSWERS), max_size=60),
    st.sampled_from(["Europe/London", "America/New_York"]),
)

# kept: scripts that failed once, here or with the line that they are about taken out
LONDON = "Europe/London"
KEPT = {
    "taken at the very last moment at which it is of use": (STARTS[2], [("book", "ada", 0, 9)] * 3, [], LONDON),
    "a worker slower than its lease, and the one that takes over dies": (
        STARTS[0], [("burst", "urgent", 13), ("pass_hours", 15)], ["slow", "ok", "killed after", "ok", "ok", "lost"], LONDON,
    ),
    "killed after the sixth of twelve: five are known to have left": (
        STARTS[2], [("burst", "once", 12), ("pass_hours", 1), ("retry",), ("pass_hours", 1)],
        ["ok"] * 5 + ["killed after"], LONDON,
    ),
    "a refusal between two that left, then the worker dies": (
        STARTS[2], [("burst", "urgent", 9), ("pass_hours", 3)], ["ok"] * 4 + ["refused", "ok", "killed before"], LONDON,
    ),
    "killed with a group claimed, and with one judged": (
        STARTS[2], [("burst", "note", 9), ("kill", "judged"), ("pass_hours", 1), ("kill", "claimed"), ("pass_hours", 3)],
        [], LONDON,
    ),
    "slower than the lease in the middle of a group, with another worker about": (
        STARTS[2], [("burst", "once", 12), ("burst", "note", 8), ("pass_hours", 3)],
        ["ok"] * 4 + ["slow", "second", "lost"], LONDON,
    ),
    "consent taken back and the client archived while messages wait for morning": (
        STARTS[1],
        [
            ("away", 13), ("burst", "note", 6), ("pass_hours", 3), ("consent", "ada", "email", False),
            ("archive", "bo", True), ("pass_hours", 15),
        ],
        [], "America/New_York",
    ),
    "moved and cancelled while the channel is down over a night with a clock change": (
        STARTS[1],
        [
            ("book", "ada", 4, 9), ("book", "bo", 4, 10), ("away", 40), ("move", 0, 5, 11), ("pass_hours", 1),
            ("cancel", 1), ("pass_hours", 40),
        ],
        ["down", "later", "down", "later", "later"], LONDON,
    ),
}


def tell(cast, script, monkeypatch) -> timedelta:
    """Tell one script to its end and judge it; how much time went by."""
    start, told, answers, zone = script
    weeks = Weeks(cast, start, list(answers))
    with transaction.atomic(), monkeypatch.context() as patch:
        patch.setattr("django.conf.settings.SMS_URL", "http://127.0.0.1:9/")
        Client.objects.filter(pk=cast.bo.pk).update(zone=zone)
        watched(weeks, patch)
        for step, *what in told:
            if step == "kill":
                weeks.kill_at = what[0]
            else:
                getattr(weeks, step)(*what)
        weeks.come_to_rest()
        weeks.judge_all()
        transaction.set_rollback(True)
    return weeks.now - start


@pytest.mark.django_db
@pytest.mark.parametrize("script", KEPT.values(), ids=KEPT)
def test_a_kept_script(cast, monkeypatch, script):
    tell(cast, script, monkeypatch)


@pytest.mark.django_db
def test_weeks_of_bookings_faults_and_changes_of_mind(cast, monkeypatch, capsys):
    passed = []

    @settings(
        max_examples=SCRIPTS, deadline=None, suppress_health_check=list(HealthCheck), database=None,
        derandomize=SCRIPTS <= 25, phases=[Phase.generate],   # shrinking by the hour would help nobody
    )
    @given(scripts)
    def each(script):
        try:
            passed.append(tell(cast, script, monkeypatch))
        except BaseException:
            print("the script that failed:", script)   # as it stands: keep it in KEPT
            raise

    each()
    weeks = sum(passed, timedelta()) / timedelta(weeks=1)
    with capsys.disabled():
        if SCRIPTS > 25:
            print(f"{weeks:,.0f} weeks in {len(passed):,} scripts")
    assert weeks > SCRIPTS / 4
