"""Whether a clinician is there, read at once, is what the openings' masks say; and how many statements a booking takes."""

from __future__ import annotations

import random
from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import connection

from clinic.booking import availability
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Absence, SpecialHours, WorkingHours
from clinic.booking.presence import presence
from clinic.booking.rules import grid as g
from clinic.people.models import Site

MONDAY = date(2026, 3, 23)   # the clock of the cast's site jumps ahead on the Sunday after
FIRST = datetime(2026, 3, 23, tzinfo=UTC)
TEN = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)


def some_days(cast, dice) -> None:
    """Hours that overlap and meet, extra hours of either clinician, a closed day and absences, at odd minutes too."""
    for who in (cast.mina, cast.theo):
        WorkingHours.objects.create(
            clinician=who, site=cast.site, rule="FREQ=DAILY;INTERVAL=2", first_day=MONDAY, starts=time(15), ends=time(18, 20)
        )
        for _ in range(3):
            at = FIRST + timedelta(minutes=dice.randrange(9 * 1440))
            Absence.objects.create(clinician=who, starts=at, ends=at + timedelta(minutes=dice.randrange(1, 300)))
            at = FIRST + timedelta(minutes=5 * dice.randrange(9 * 288))
            SpecialHours.objects.create(
                site=cast.site, clinician=who, is_open=True, starts=at, ends=at + timedelta(minutes=5 * dice.randrange(1, 90))
            )
    begin = FIRST + timedelta(days=dice.randrange(7))
    SpecialHours.objects.create(site=cast.site, is_open=False, starts=begin, ends=begin + timedelta(days=1), name="Closed")


@pytest.mark.parametrize("seed", range(4))
def test_who_is_there_is_what_the_masks_say(cast, seed):
    dice = random.Random(seed)
    some_days(cast, dice)
    grid = g.days_grid(MONDAY, MONDAY + timedelta(days=8), cast.site.zone)
    nobody = availability.Busy(defaultdict(list), defaultdict(list), [])
    free = availability.free_masks(grid, [cast.mina.pk, cast.theo.pk], cast.site, nobody)
    answers = set()
    for _ in range(150):
        who, length = dice.choice((cast.mina, cast.theo)), dice.randrange(1, 14)
        tick = dice.randrange(grid.length - length)
        span = g.instant_of(grid.first + tick), g.instant_of(grid.first + tick + length)
        there = presence(who, cast.site, span).all_of(span)
        assert there == bool(g.free_runs(free[who.pk], length) >> tick & 1), span
        answers.add(there)
    assert answers == {True, False}


def test_a_clinician_of_another_site_is_not_there(cast):
    away = Site.objects.create(name="Hill", zone="UTC", phone="+441632960101", emergency_number="999", region_code="GB")
    span = TEN, TEN + timedelta(minutes=30)
    assert presence(cast.mina, cast.site, span).at_site
    assert not presence(cast.mina, away, span).at_site
    assert presence(cast.mina, away, span).spans == []


def test_booking_and_moving_take_as_many_statements_as_they_say(cast, now, django_assert_num_queries):
    def book(start):
        return book_visit(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now
        )

    book(TEN - timedelta(hours=1))
    lock = connection.vendor == "postgresql"
    # who is there, the savepoint that stands for the transaction (two), rooms, and the rows: visit, claims, trail, message
    with django_assert_num_queries(8 + lock):
        visit = book(TEN)
    # beside these: the visit locked and read, older claims deleted, what it was; the message is looked for before it is
    # queued (with a savepoint), and the app above looks for the reassessment of the visit
    with django_assert_num_queries(18 + lock):
        move_visit(by=cast.desk.user, appointment=visit, start=TEN + timedelta(hours=2), now=now)
