"""What a monitoring system reads: the open text format, behind a token, and nothing of anybody."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client.parser import text_string_to_metric_families

from clinic.people import audit
from clinic.people.vocab import Channel
from clinic.reminders.actions.beat import beat
from clinic.reminders.actions.hold_messages import hold_messages
from clinic.reminders.models import Heartbeat, Message
from clinic.reminders.rules.exposition import Gauge, Sample, by_label, exposition, gauge
from clinic.reminders.vocab import HoldReason
from clinic.trust.actions.seal_trail import seal_trail
from programs.following.models import Alert
from tests.conftest import NOW
from tests.reminders.exposition_text import read

TOKEN = "t" * 32


@pytest.fixture
def scrape(browse, settings, db):
    """scrape() -> what is read of the page at NOW."""
    settings.METRICS_TOKEN = TOKEN

    def scraped():
        with time_machine.travel(NOW, tick=False):
            answer = browse().get("/metrics", headers={"authorization": f"Bearer {TOKEN}"})
        assert answer.status_code == 200
        assert answer["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
        return read(answer.content.decode())

    return scraped


# the example of the description, "Text format example", shortened; read() must take it, or it proves nothing of ours
EXAMPLE = """\
# HELP http_requests_total The total number of HTTP requests.
# TYPE http_requests_total counter
http_requests_total{method="post",code="200"} 1027
http_requests_total{method="post",code="400"} 3
# HELP msdos_file_access_time_seconds Escaping in label values
# TYPE msdos_file_access_time_seconds gauge
msdos_file_access_time_seconds{path="C:\\\\DIR\\\\FILE.TXT",error="Cannot find file:\\n\\"FILE.TXT\\""} 1.458255915e9
# TYPE something_weird untyped
something_weird{problem="division by zero"} +Inf
"""


def test_the_reader_takes_the_example_of_the_description():
    found = read(EXAMPLE)
    assert found["http_requests_total"][("code", "200"), ("method", "post")] == 1027
    (labels, value), = found["msdos_file_access_time_seconds"].items()
    assert dict(labels) == {"path": "C:\\DIR\\FILE.TXT", "error": 'Cannot find file:\n"FILE.TXT"'}
    assert value == 1.458255915e9


@pytest.mark.parametrize(
    "broken",
    [
        "# TYPE a gauge\na 1",
        "a 1\n", "# TYPE a gauge\na 1\na 2\n", '# TYPE a gauge\na{b="1\\x"} 1\n', "# TYPE a gauge\na one\n",
        "# TYPE a gauge\n# TYPE b gauge\na 1\nb 1\na{c=\"d\"} 1\n", "a 1\n# TYPE a gauge\n", "# TYPE 1a gauge\n1a 1\n",
    ],
)
def test_the_reader_refuses_what_breaks_a_rule(broken):
    with pytest.raises(ValueError):
        read(broken)


@given(st.text(st.characters(exclude_characters="\r\x85\u2028\u2029", exclude_categories=["Cs"])), st.floats(allow_nan=False))
def test_any_words_and_any_number_come_back_as_they_were(words, value):
    text = exposition([Gauge("a_b", words, (Sample(value, (("what", words),)),))])
    assert read(text) == {"a_b": {(("what", words),): value}}


def by_the_library(text):
    """The same, read by the parser of prometheus-client, which knows nothing of us."""
    return {
        sample.name: {tuple(sorted(each.labels.items())): each.value for each in family.samples}
        for family in text_string_to_metric_families(text) for sample in family.samples
    }


@given(st.text(st.characters(exclude_characters="\r\x85\u2028\u2029", exclude_categories=["Cs"])), st.floats(allow_nan=False))
def test_an_independent_parser_reads_any_words_and_any_number_alike(words, value):
    text = exposition([Gauge("a_b", words, (Sample(value, (("what", words),)),))])
    assert by_the_library(text) == read(text)


def test_an_independent_parser_reads_the_whole_page_as_we_do(queue, browse, settings):
    settings.METRICS_TOKEN = TOKEN
    queue()
    queue("once")
    page = browse().get("/metrics", headers={"authorization": f"Bearer {TOKEN}"}).content.decode()
    found = by_the_library(page)
    assert found == read(page)
    assert sum(found["intervale_messages"].values()) == 2
    assert {family.type for family in text_string_to_metric_families(page)} == {"gauge"}
    assert all(family.documentation for family in text_string_to_metric_families(page))


def test_a_name_twice_and_a_name_that_is_none_are_refused():
    with pytest.raises(ValueError, match="there twice"):
        exposition([gauge("a", "", 1), gauge("a", "", 2)])
    for wrong in (lambda: gauge("a-b", "", 1), lambda: by_label("a", "", "__b", {"c": 1})):
        with pytest.raises(ValueError, match="not a name"):
            wrong()


@pytest.mark.parametrize(
    ("setting", "header"),
    [
        ("", "Bearer "), ("", ""), (TOKEN, ""), (TOKEN, TOKEN), (TOKEN, f"Bearer {TOKEN}x"), (TOKEN, f"Bearer {TOKEN[:-1]}"),
        (TOKEN, "Bearer ü"),
    ],
)
def test_without_the_right_token_there_is_no_such_page(browse, db, settings, setting, header):
    settings.METRICS_TOKEN = setting
    assert browse().get("/metrics", headers={"authorization": header}).status_code == 404


def test_it_tells_how_the_outbox_is_doing(scrape, queue):
    assert scrape()["intervale_outbox_oldest_due_seconds"] == {(): 0}
    assert "intervale_heartbeat_age_seconds" not in scrape()
    queue(due=NOW - timedelta(minutes=7))
    queue(due=NOW + timedelta(hours=1))
    queue("once")
    Message.objects.filter(kind="once").update(state="failed")
    beat("deliver", NOW - timedelta(seconds=90))
    found = scrape()
    counts = found["intervale_messages"]
    assert counts[("kind", "note"), ("state", "pending")] == 2
    assert counts[("kind", "once"), ("state", "failed")] == 1
    assert counts[("kind", "visit_reminder"), ("state", "sent")] == 0   # there before the first one
    assert sum(counts.values()) == 3
    assert found["intervale_outbox_oldest_due_seconds"] == {(): 420}
    assert found["intervale_heartbeat_age_seconds"] == {(("work", "deliver"),): 90}


def test_it_tells_what_stands_in_the_way(scrape, cast):
    before = scrape()
    assert before["intervale_outbox_held"] == {(): 0}
    assert before["intervale_channel_down"][(("channel", "email"),)] == 0
    hold_messages(by=cast.lead.user, why=HoldReason.BY_HAND, now=NOW)
    Heartbeat.objects.create(name="email-down", at=NOW)
    after = scrape()
    assert after["intervale_outbox_held"] == {(): 1}
    assert after["intervale_channel_down"][(("channel", "email"),)] == 1


def test_it_counts_open_alerts_and_rows_without_a_seal(scrape, cast):
    seal_trail(now=NOW)
    assert (scrape()["intervale_trail_unsealed"], scrape()["intervale_alerts_open"]) == ({(): 0}, {(): 0})
    audit.record(by=cast.lead.user, verb="look", kind="client", public_id=cast.ada.public_id, at=NOW, client=cast.ada)
    for closed in (None, None, NOW):
        Alert.objects.create(
            answer_id=uuid4(), client=cast.ada, flag="chest_pain", at=NOW, closed_at=closed, note="called" if closed else ""
        )
    found = scrape()
    assert (found["intervale_trail_unsealed"], found["intervale_alerts_open"]) == ({(): 1}, {(): 2})


@pytest.mark.parametrize("count", [1, 3])
def test_it_takes_a_fixed_number_of_queries_and_names_nobody(scrape, queue, cast, count, django_assert_num_queries, browse):
    for _ in range(count):
        queue()
    with django_assert_num_queries(5 + len(Channel)):   # the oldest of each channel is asked for by itself
        scrape()
    body = browse().get("/metrics", headers={"authorization": f"Bearer {TOKEN}"}).content.decode()
    for word in ("Ada", "Quill", "client.example", "Harbour", str(cast.ada.public_id)):
        assert word not in body
