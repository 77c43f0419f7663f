"""A group that meets every week in the invented clinic, and who comes to it."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.open_group import open_group
from clinic.booking.models import GroupVisit
from clinic.people.models import Client
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.project.demo.book import Book
from clinic.project.demo.practice import Practice

TUESDAY, ELEVEN, WEEKS = 1, time(11), 4
LED_BY = 0                 # the clinician
COME = (4, 6, 2, 1)        # how many come each week: the second time is full


def plan_groups(practice: Practice, book: Book, now: datetime) -> list[GroupVisit]:
    """From next Tuesday on, before anybody else gets the hour."""
    today = zones.day_in(now, practice.site.zone)
    day = today + timedelta(days=(TUESDAY - today.weekday() - 1) % 7 + 1)
    made = open_group(
        by=practice.desk.user, site=practice.site, visit_type=practice.group, clinician=practice.clinicians[LED_BY],
        start=zones.instant(day, ELEVEN, practice.site.zone), now=now, weeks=WEEKS, room=practice.rooms[LED_BY],
    )
    for each in made:
        book.keep(LED_BY, each.busy_from, each.busy_until)
    return made


def fill_groups(practice: Practice, made: list[GroupVisit], now: datetime) -> None:
    """Clients of the clinician who leads it come, the first ones every week; whoever has another visit then does not."""
    clients = list(Client.objects.filter(episodes__lead=practice.clinicians[LED_BY]).distinct().order_by("pk")[:10])
    for group, come in zip(made, COME, strict=True):
        joined = 0
        for client in clients:
            if joined == come:
                break
            try:
                book_visit(
                    by=practice.desk.user, client=client, visit_type=practice.group, clinician=group.clinician,
                    start=group.starts, now=now, remind=False,
                )
                joined += 1
            except Refusal:
                continue
