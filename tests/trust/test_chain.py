"""The chain: whole as written, and the first break named whatever was done to it."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from clinic.people import audit
from clinic.people.models import AuditEvent
from clinic.trust import queries
from clinic.trust.actions.seal_trail import seal_trail
from clinic.trust.models import Seal
from clinic.trust.rules.chain import START, Break, Head, Link, digest_of, walk


def chain_of(facts):
    links, before = [], START
    for number, each in enumerate(facts, 1):
        before = digest_of(before, each)
        links.append(Link(number, before, number, each))
    return links


EVENT = st.dictionaries(st.text(max_size=4), st.integers() | st.text(max_size=6), min_size=1)
FACTS = st.lists(EVENT, min_size=1, max_size=8)


@given(FACTS)
def test_a_chain_as_written_is_whole(facts):
    links = chain_of(facts)
    assert walk(links) == (Head(len(facts), links[-1].digest), None)


@given(FACTS, st.data())
def test_any_changed_event_is_the_first_break(facts, data):
    links = chain_of(facts)
    at = data.draw(st.integers(0, len(links) - 1))
    old = links[at]
    links[at] = Link(old.number, old.digest, old.event, {**old.facts, "planted": 1})
    assert walk(links)[1] == Break("changed", at + 1, at + 1)


@given(FACTS, st.data())
def test_a_link_taken_out_of_the_middle_is_missed(facts, data):
    links = chain_of([*facts, {"last": 1}])
    at = data.draw(st.integers(0, len(links) - 2))
    del links[at]
    assert walk(links)[1] == Break("missing_link", at + 1, None)


def test_the_digest_is_sha_256_of_the_one_before_and_the_canonical_text():
    # FIPS 180-4 by the standard library, written out independently of the rule
    first = hashlib.sha256((START + "\n" + '{"a":1,"ä":"é"}').encode()).hexdigest()
    assert digest_of(START, {"ä": "é", "a": 1}) == first
    assert digest_of(first, {"b": [2]}) == hashlib.sha256((first + "\n" + '{"b":[2]}').encode()).hexdigest()


@pytest.fixture
def sealed(cast, now):
    """Three events, sealed."""
    for number in range(3):
        audit.record(
            by=cast.mina.user, verb="accept_suggestion", kind="suggestion", public_id=number, at=now, client=cast.ada,
            number=number,
        )
    return seal_trail(now=now)


def raw(statement, *values, table="people_auditevent"):
    """Run SQL past the walls, as someone with the database's password could."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = replica")
        else:
            cursor.execute(f"DROP TRIGGER IF EXISTS {table}_append_only")
        try:
            cursor.execute(statement, values)
        finally:
            if connection.vendor == "postgresql":
                cursor.execute("SET session_replication_role = DEFAULT")


def test_what_was_recorded_is_sealed_once_and_found_whole(sealed, now):
    assert sealed.number == 3
    assert seal_trail(now=now) == sealed   # nothing new: nothing written
    found = queries.verdict(now=now, known=sealed)
    assert (found.whole, found.head) == (True, sealed)


def test_later_events_are_linked_behind_the_head(sealed, cast, now):
    audit.record(by=cast.desk.user, verb="book_visit", kind="appointment", public_id=9, at=now, client=cast.ada)
    assert seal_trail(now=now).number == 4
    assert queries.verdict(now=now, known=sealed).whole


def test_a_changed_row_is_named(sealed, now):
    second = AuditEvent.objects.order_by("pk")[1]
    raw("UPDATE people_auditevent SET verb = 'nothing' WHERE id = %s", second.pk)
    found = queries.verdict(now=now)
    assert found.first_break == Break("changed", 2, second.pk)
    with pytest.raises(CommandError, match=rf"breaks at link 2, event {second.pk}: changed"):
        call_command("verify_trail")


def test_a_link_cut_out_is_named(sealed, now):
    raw("DELETE FROM trust_seal WHERE number = 2")
    assert queries.verdict(now=now).first_break == Break("missing_link", 2, None)


def test_links_cut_off_the_end_show_by_a_head_kept_elsewhere(sealed, now, capsys):
    call_command("verify_trail")
    kept = capsys.readouterr().out.split()[-1]
    raw("DELETE FROM trust_seal WHERE number = 3")
    last = AuditEvent.objects.order_by("-pk").first()
    raw("DELETE FROM people_auditevent WHERE id = %s", last.pk)
    assert queries.verdict(now=now).whole   # the rest is whole in itself
    with pytest.raises(CommandError, match="not in the trail any more"):
        call_command("verify_trail", head=kept)


def test_a_malformed_head_is_refused(db):
    with pytest.raises(CommandError, match="NUMBER:DIGEST"):
        call_command("verify_trail", head="3:abc")


def test_an_event_too_long_without_a_seal_is_told(sealed, cast, now):
    audit.record(by=cast.mina.user, verb="look", kind="page", public_id="x", at=now, client=cast.ada)
    assert queries.verdict(now=now).whole
    assert queries.verdict(now=now + timedelta(hours=1)).unsealed == 1


def test_a_seal_cannot_be_changed(sealed):
    with pytest.raises(TypeError, match="append-only"):
        Seal.objects.update(digest="0" * 64)
