"""What-if on the demo caseload against a recount by hand: each day of each program read from the records and judged anew."""

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from clinic.people.models import User
from clinic.project.demo.seed import seed_demo
from programs.following import whatif
from programs.following.ladders import ladders_for
from programs.following.models import Alert, RuleSet
from programs.following.queries import course_of
from programs.following.rules import ruleset
from programs.following.rules.fold import fold
from programs.following.rules.suggest import propose
from programs.prescribing.models import Program, Revision

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
WEEKS = 2
CHANGE = {"bands.silent_after": 4, "pain.acceptable_most": 3, "pain.safe_most": 1, "pain.progress_most": 1}


@pytest.fixture
def lead(db, settings):
    settings.DEMO = True
    seed_demo(clients=7, months=1, seed=7, now=NOW)
    return User.objects.get(role="lead")


def as_it_stood(program: Program, day: date):
    """The course on `day` before that day's decisions; the newest edit of a session is what the client did."""
    zone, whole = ZoneInfo(program.client.zone), course_of(program)
    written = {row.number: row.at.astimezone(zone).date() for row in Revision.objects.filter(program=program)}
    newest = {each.log_id: each.edit for each in sorted(whole.sessions, key=lambda each: each.edit)}
    alerts = [
        (row.at.astimezone(zone).date(), row.closed_at and row.closed_at.astimezone(zone).date())
        for row in Alert.objects.filter(client=program.client)
    ]
    return replace(
        whole, ended=None,
        plans=tuple(
            plan for plan in whole.plans
            if plan.effective_from <= day or (plan.number > 1 and written[plan.number] < day)
        ),
        pauses=tuple(pause for pause in whole.pauses if pause.first < day),
        sessions=tuple(each for each in whole.sessions if each.day <= day and each.edit == newest[each.log_id]),
        mornings=tuple(each for each in whole.mornings if each.day < day),
        open_alerts=sum(opened <= day and (closed is None or closed >= day) for opened, closed in alerts),
    )


def recount(rules: ruleset.RuleSet) -> tuple[Counter, dict[str, set[int]], int]:
    """(suggestions by kind, clients by kind, days): a suggestion counts on the first day of each time it stood."""
    counts, clients, gone_through = Counter(), {}, 0
    for program in Program.objects.exclude(status="draft").select_related("client"):
        today = NOW.astimezone(ZoneInfo(program.client.zone)).date()
        day, before = max(program.starts, today - timedelta(days=7 * WEEKS - 1)), set()
        last = min(today, program.ended or today)
        while day <= last:
            course = as_it_stood(program, day)
            ladders = ladders_for(course.newest.plan) if course.newest else {}
            found = propose(course, fold(course, day, rules.bands), day, rules, ladders)
            standing = {(each.kind, each.item_key) for each in found if each.kind != "maintain"}
            for kind, _ in standing - before:
                counts[kind] += 1
                clients.setdefault(kind, set()).add(program.client_id)
            before, day, gone_through = standing, day + timedelta(days=1), gone_through + 1
    return counts, clients, gone_through


def test_the_counts_of_the_demo_caseload_are_those_of_a_recount_by_hand(lead):
    row = RuleSet.objects.get()
    rules = ruleset.read(row.version, row.thresholds)
    changed = ruleset.changed(rules, CHANGE)
    answer = whatif.what_if(lead, rules=rules, changed=changed, weeks=WEEKS, now=NOW)
    (now, now_clients, gone_through), (then, then_clients, _) = recount(rules), recount(changed)
    assert answer.days == gone_through
    assert {each.kind: each.now for each in answer.rows if each.now} == now
    assert {each.kind: each.then for each in answer.rows if each.then} == then
    assert {each.kind: each.now_clients for each in answer.rows if each.now} == {k: len(v) for k, v in now_clients.items()}
    assert {each.kind: each.then_clients for each in answer.rows if each.then} == {k: len(v) for k, v in then_clients.items()}
    assert now != then
    assert len(now) >= 4
