"""How long records are kept: days by the calendar, what stays whatever the settings say, what goes and how."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from clinic.booking.actions.book_visit import book_visit
from clinic.people.models import AuditEvent, Client, Episode, IdempotencyKey, SignInLink, Site
from clinic.people.queries import system_actor
from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.models import InboxMessage, Message
from clinic.trust import keeping
from clinic.trust.actions import apply_retention as applying
from clinic.trust.actions.apply_retention import apply_retention
from clinic.trust.actions.bring_back import bring_back
from clinic.trust.actions.erase_person import erase_person
from clinic.trust.actions.put_away import put_away
from clinic.trust.actions.set_keep import set_keep
from clinic.trust.actions.set_retention import set_retention
from clinic.trust.models import Retention
from clinic.trust.rules.keeping import kept_through, may_go, wrong_settings
from programs.following.models import Alert
from tests.access.matrix_portal import program as prescribed

NOW = datetime(2036, 3, 3, 12, 0, tzinfo=UTC)
AWAY = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)   # ten years and a day before NOW
AWAY_QUERIES, PAGE_QUERIES = 4, 14


@pytest.mark.parametrize(
    ("ended", "months", "last"),
    [
        (date(2026, 3, 2), 120, date(2036, 3, 2)),
        (date(2024, 2, 29), 120, date(2034, 3, 1)),      # 2034 has no 29 February: a day longer, never shorter
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2023, 2, 28), 12, date(2024, 2, 28)),
        (date(2096, 2, 29), 48, date(2100, 3, 1)),       # 2100 is no leap year
        (date(2026, 8, 31), 6, date(2027, 3, 1)),
        (date(2026, 8, 30), 6, date(2027, 3, 1)),
        (date(2026, 8, 31), 1, date(2026, 10, 1)),
        (date(2026, 12, 31), 2, date(2027, 3, 1)),
        (date(2026, 12, 31), 12, date(2027, 12, 31)),
    ],
)
def test_the_last_day_kept_as_counted_by_hand(ended, months, last):
    assert kept_through(ended, months) == last
    assert may_go(last, months) < ended
    assert may_go(last + timedelta(days=1), months) >= ended


DAYS = st.dates(date(1960, 1, 1), date(2120, 12, 31))


@given(DAYS, DAYS, st.integers(1, 1200))
def test_both_ways_of_counting_agree(ended, today, months):
    latest = may_go(today, months)
    assert (kept_through(ended, months) < today) == (latest is not None and ended <= latest)


@given(DAYS, st.integers(1, 1200))
def test_it_is_never_shorter_than_the_months(ended, months):
    last = kept_through(ended, months)
    assert (last.year - ended.year) * 12 + last.month - ended.month in (months, months + 1)
    assert last.day in (ended.day, 1)
    assert last - ended >= timedelta(days=28 * months)


def test_before_the_calendar_nothing_goes():
    assert may_go(date(50, 1, 1), 1200) is None


@pytest.mark.parametrize(("name", "bad"), [
    ("record_years", 2), ("record_years", 101), ("message_months", 5), ("proof_days", 0), ("key_days", 6),
])
def test_a_slip_of_the_hand_is_refused_by_rule_and_by_database(cast, now, name, bad):
    assert set(wrong_settings({name: bad})) == {name}
    with pytest.raises(Refusal):
        set_retention(by=cast.lead.user, site=cast.site, given={name: bad}, now=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        Retention.objects.create(site=cast.site, changed=now, changed_by=cast.lead.user, **{name: bad})


@pytest.fixture
def settled(cast):
    """Ten years for records, a year for messages, a week for proofs, a month for keys."""
    given_ = {"record_years": 10, "message_months": 12, "proof_days": 7, "key_days": 30}
    return set_retention(by=cast.lead.user, site=cast.site, given=given_, now=AWAY)


@pytest.fixture
def away(cast):
    Episode.objects.filter(client=cast.ada).update(opened=AWAY.date() - timedelta(days=90))
    put_away(by=cast.lead.user, client=cast.ada, now=AWAY)
    return Client.objects.get(pk=cast.ada.pk)


def run(now=NOW):
    return apply_retention(by=system_actor(), now=now)


def erased():
    return set(AuditEvent.objects.filter(verb="erase_person").values_list("client", flat=True))


def test_a_record_is_kept_through_the_day_and_goes_on_the_next(cast, settled, away):
    last = datetime(2036, 3, 2, 23, 59, 59, tzinfo=UTC)   # London is on UTC then
    assert run(last)["records"] == 0
    assert run(last + timedelta(seconds=1))["records"] == 1
    ada = Client.objects.get(pk=away.pk)
    assert (ada.given_name, ada.family_name, ada.archived) == ("Erased", "", AWAY)
    assert erased() == {away.pk}
    assert AuditEvent.objects.get(verb="erase_person").by == system_actor()
    assert run()["records"] == 0   # once


def test_the_day_is_the_sites_own(cast, settled, away):
    Site.objects.filter(pk=cast.site.pk).update(zone="Pacific/Auckland")   # thirteen hours ahead in March
    assert run(datetime(2036, 3, 2, 10, 59, tzinfo=UTC))["records"] == 0
    Client.objects.filter(pk=away.pk).update(archived=datetime(2026, 3, 1, 10, 59, tzinfo=UTC))   # 1 March, 23:59 there
    assert run(datetime(2036, 3, 1, 10, 59, tzinfo=UTC))["records"] == 0
    assert run(datetime(2036, 3, 1, 11, 0, tzinfo=UTC))["records"] == 1


HOLDS = {
    "an open episode": lambda cast, client: Episode.objects.filter(client=client).update(status="active", closed=None),
    "an episode on hold": lambda cast, client: Episode.objects.filter(client=client).update(status="onhold", closed=None),
    "an open alert": lambda cast, client: Alert.objects.create(answer_id=uuid4(), client=client, flag="chest_pain", at=AWAY),
    "a reason to keep it": lambda cast, client: set_keep(by=cast.lead.user, client=client, why="A court asked", now=AWAY),
    "back in use": lambda cast, client: bring_back(by=cast.lead.user, client=client, now=NOW),
}


@pytest.mark.parametrize("why", HOLDS)
def test_what_stays_whatever_the_settings_say(cast, settled, away, why):
    assert dict(keeping.counts(keeping.due_of(cast.site, NOW)))["records"] == 1
    HOLDS[why](cast, away)
    assert dict(keeping.counts(keeping.due_of(cast.site, NOW)))["records"] == 0
    assert run()["records"] == 0
    assert Client.objects.get(pk=away.pk).given_name == "Ada"


def test_a_visit_to_come_keeps_the_record(cast, settled, now):
    start = (now + timedelta(days=2)).replace(hour=10, minute=0, second=0, microsecond=0)
    book_visit(by=cast.desk.user, client=cast.ada, clinician=cast.mina, visit_type=cast.follow_up, start=start, now=now)
    Episode.objects.filter(client=cast.ada).update(status="finished", closed=now.date())
    Client.objects.filter(pk=cast.ada.pk).update(archived=now - timedelta(days=4000))
    assert run(now)["records"] == 0
    assert run(start + timedelta(days=1))["records"] == 1   # it was, and nothing else is to come


def test_a_program_that_goes_on_keeps_the_record(cast, settled, now):
    prescribed(cast)
    with pytest.raises(Refusal, match="goes on"):
        put_away(by=cast.lead.user, client=cast.ada, now=now)
    assert Episode.objects.filter(client=cast.ada, status="active").exists()   # nothing of it stays
    Episode.objects.filter(client=cast.ada).update(status="finished", closed=now.date())
    Client.objects.filter(pk=cast.ada.pk).update(archived=AWAY - timedelta(days=900))
    assert run()["records"] == 0


def test_nothing_written_down_keeps_everything(cast, away):
    set_retention(by=cast.lead.user, site=cast.site, given={}, now=AWAY)
    far = NOW + timedelta(days=36500)
    assert (keeping.due_of(cast.site, far), keeping.due_everywhere(far), dict(run(far))) == ([], [], {})
    Retention.objects.all().delete()
    assert (keeping.due_of(cast.site, far), dict(run(far))) == ([], {})


def message(cast, key, created, **more):
    who = {} if "staff" in more else {"client": cast.ada}
    return Message.objects.create(**{
        "kind": "mail_check", "about": "x:1", "dedup_key": key, "due": created, "not_after": created, "state": "sent",
        "values": {"first_name": "Ada"}, "created": created, **who, **more,
    })


def test_messages_lose_what_stood_in_them_and_stay_as_rows(cast, settled):
    old, edge = datetime(2035, 3, 2, 23, 59, tzinfo=UTC), datetime(2035, 3, 3, 0, 0, tzinfo=UTC)
    goes, stays = message(cast, "a", old), message(cast, "b", edge)
    waits, staff = message(cast, "c", old, state="pending"), message(cast, "d", old, staff=cast.desk)
    held = message(cast, "e", old, client=cast.bo)
    set_keep(by=cast.lead.user, client=cast.bo, why="A complaint goes on", now=AWAY)
    assert run()["messages"] == 2
    kept = {row.pk for row in Message.objects.exclude(values={})}
    assert kept & {goes.pk, staff.pk} == set()
    assert {stays.pk, waits.pk, held.pk} <= kept
    assert Message.objects.filter(dedup_key="a").exists()   # so that it is not written a second time
    assert AuditEvent.objects.get(verb="apply_retention").detail == {"what": "messages", "rows": 2}


def proofs(cast, at):
    SignInLink.objects.create(user=cast.ada.user, token_hash=f"h{at}", created=at, expires=at)
    IdempotencyKey.objects.create(user=cast.desk.user, key=f"k{at}"[:80], request_hash="r", created=at)
    Session.objects.create(session_key=f"s{at:%Y%m%d}", session_data="x", expire_date=at)
    InboxMessage.objects.create(to="a@client.example", subject="s", body="b", at=at)


def test_proofs_keys_sessions_and_post(cast, settled):
    for days in (1, 8, 31, 400):
        proofs(cast, NOW - timedelta(days=days))
    assert dict(run()) == {"records": 0, "messages": 0, "links": 3, "keys": 2, "sessions": 3, "post box": 1}
    assert set(run().values()) == {0}


def test_what_names_no_site_goes_when_every_site_lets_it_go(cast, settled):
    proofs(cast, NOW - timedelta(days=400))
    other = Site.objects.create(
        name="Elsewhere", zone="Europe/London", phone="+447700900100", emergency_number="999", region_code="GB"
    )
    assert keeping.due_everywhere(NOW) == []
    Retention.objects.create(site=other, proof_days=500, changed=NOW, changed_by=cast.lead.user)
    assert keeping.counts(keeping.due_everywhere(NOW)) == [("sessions", 0)]   # the longest time counts
    Retention.objects.filter(site=other).update(proof_days=399)
    assert keeping.counts(keeping.due_everywhere(NOW)) == [("sessions", 1)]


def test_a_run_that_is_killed_goes_on(cast, settled, away, monkeypatch):
    Episode.objects.filter(client=cast.bo).update(opened=AWAY.date() - timedelta(days=90))
    put_away(by=cast.lead.user, client=cast.bo, now=AWAY + timedelta(minutes=1))
    true = applying.take_out

    def dying(*, client, **rest):
        true(client=client, **rest)
        if client.pk == cast.bo.pk:
            raise KeyboardInterrupt

    monkeypatch.setattr(applying, "take_out", dying)
    with pytest.raises(KeyboardInterrupt):
        run()
    assert erased() == {cast.ada.pk}
    assert Client.objects.get(pk=cast.bo.pk).given_name == "Bo"   # whole, for it was in between
    monkeypatch.setattr(applying, "take_out", true)
    assert run()["records"] == 1
    assert erased() == {cast.ada.pk, cast.bo.pk}


def test_many_rows_go_by_lots(cast, settled, monkeypatch):
    monkeypatch.setattr(applying, "LOT", 2)
    for number in range(5):
        message(cast, f"m{number}", AWAY)
    assert run()["messages"] == 5
    assert [event.detail["rows"] for event in AuditEvent.objects.filter(verb="apply_retention").order_by("pk")] == [2, 2, 1]


def test_the_command_counts_and_changes_nothing_until_told(cast, settled, away, time_machine_now):
    out = io.StringIO()
    call_command("apply_retention", stdout=out)
    assert "Harbour Lane: records: 1" in out.getvalue()
    assert "Nothing was changed." in out.getvalue()
    assert erased() == set()
    out = io.StringIO()
    call_command("apply_retention", "--write", stdout=out)
    assert "records: 1" in out.getvalue()
    assert erased() == {away.pk}


@pytest.fixture
def time_machine_now(monkeypatch):
    monkeypatch.setattr("clinic.trust.management.commands.apply_retention.timezone.now", lambda: NOW)


def test_only_the_system_applies_it(cast, settled, away):
    for user in (cast.lead.user, cast.desk.user):
        with pytest.raises(NotThere):
            apply_retention(by=user, now=NOW)


def test_only_the_lead_decides(cast, now):
    for user in (cast.desk.user, cast.mina.user, cast.ada.user):
        for doing in (
            lambda: set_retention(by=user, site=cast.site, given={"record_years": 10}, now=now),   # noqa: B023
            lambda: put_away(by=user, client=cast.ada, now=now),   # noqa: B023
            lambda: bring_back(by=user, client=cast.ada, now=now),   # noqa: B023
            lambda: set_keep(by=user, client=cast.ada, why="No", now=now),   # noqa: B023
        ):
            with pytest.raises(NotThere):
                doing()


def test_a_reason_to_keep_it_stops_erasing_by_hand_and_stays_out_of_the_trail(cast, away):
    set_keep(by=cast.lead.user, client=away, why="A court asked", now=AWAY)
    with pytest.raises(Refusal, match="why this record stays"):
        erase_person(by=cast.lead.user, client=away, name="Ada Quill", now=AWAY)
    set_keep(by=cast.lead.user, client=away, why="  ", now=AWAY)
    erase_person(by=cast.lead.user, client=away, name="Ada Quill", now=AWAY)
    rows = AuditEvent.objects.filter(verb__in=("keep_record", "let_record_go")).order_by("pk")
    assert [(row.verb, row.detail) for row in rows] == [("keep_record", {}), ("let_record_go", {})]
    with pytest.raises(Refusal, match="taken out"):
        bring_back(by=cast.lead.user, client=away, now=AWAY)


def test_putting_away_ends_episodes_and_coming_back_opens_the_portal(cast, away, browse):
    assert set(away.episodes.values_list("status", "closed")) == {("finished", AWAY.date())}
    assert browse(cast.ada.user).get("/portal/").status_code == 404
    with pytest.raises(Refusal, match="already"):
        put_away(by=cast.lead.user, client=away, now=AWAY)
    browse(cast.lead.user).post(f"/clients/{away.public_id}/away/", {"back": "1"})
    assert browse(cast.ada.user).get("/portal/").status_code == 200
    with pytest.raises(Refusal, match="not put away"):
        bring_back(by=cast.lead.user, client=away, now=AWAY)


def test_the_page_takes_numbers_and_says_what_is_wrong(cast, browse):
    lead = browse(cast.lead.user)
    for bad in ({"record_years": "2"}, {"record_years": "ten"}, {"key_days": "99999999999999999999"}):
        answer = lead.post("/records/retention/", bad)
        assert answer.status_code == 400
        assert next(iter(bad.values())) in answer.content.decode()
    assert not Retention.objects.exists()
    assert lead.post("/records/retention/", {"record_years": "10", "key_days": ""}).status_code == 302
    assert (Retention.objects.get().record_years, Retention.objects.get().key_days) == (10, None)
    assert AuditEvent.objects.get(verb="set_retention").detail["record_years"] == 10
    for site in ("0", "x"):
        assert lead.get(f"/records/retention/?site={site}").status_code == 404


def test_writing_asks_who_is_there_once_more(cast, browse, settings):
    settings.STEP_UP_REQUIRED = True
    lead = browse(cast.lead.user)
    for address in ("/records/retention/", f"/clients/{cast.ada.public_id}/keep/"):
        assert lead.get(address).status_code == 200
        assert lead.post(address, {"why": "x"}).url.startswith("/account/reauthenticate/")


def test_the_pages_cost_the_same_for_one_and_three(cast, browse, settled, away, django_assert_num_queries):
    lead = browse(cast.lead.user)
    for number in range(2):
        for address, queries in (("/records/away/", AWAY_QUERIES), ("/records/retention/", PAGE_QUERIES)):
            lead.get(address)   # the first request renews the session
            with django_assert_num_queries(queries):
                lead.get(address)
        if not number:
            for more in range(2):
                Client.objects.create(site=cast.site, given_name=f"Cleo {more}", zone=cast.site.zone, archived=AWAY)
