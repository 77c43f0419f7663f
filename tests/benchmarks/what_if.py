"""How long a what-if over the demo caseload takes: it goes through four weeks day by day with two rule sets.

Yardstick: working every program of the same caseload out once, from its stored logs to its state of today.
"""

from __future__ import annotations

from tests.benchmarks.common import Measured, quickest

SETTING = "demo"
WEEKS = 4


def measure() -> list[Measured]:
    """The what-if against the fold, in processor seconds."""
    from django.utils import timezone

    from clinic.people.models import User
    from clinic.people.vocab import Role
    from programs.following import whatif
    from programs.following.courses import pasts_of
    from programs.following.queries import newest_rule_set, today_of
    from programs.following.rules import ruleset
    from programs.following.rules.fold import fold

    now, lead, row = timezone.now(), User.objects.filter(role=Role.LEAD).first(), newest_rule_set()
    if lead is None or row is None:
        raise SystemExit("The demo clinic has no lead or no rule set.")
    rules = ruleset.read(row.version, row.thresholds)
    changed = ruleset.changed(rules, {"bands.silent_after": 5, "pain.acceptable_most": 4})

    def fold_all() -> None:
        programs = list(whatif.past_programs(lead, WEEKS, now))
        for key, past in pasts_of(programs).items():
            program = next(each for each in programs if each.pk == key)
            fold(past.course, today_of(program, now), rules.bands)

    return [
        Measured(
            name="what-if over four weeks of the demo caseload",
            took=quickest(lambda: whatif.what_if(lead, rules=rules, changed=changed, weeks=WEEKS, now=now)),
            yardstick="working the same programs out once",
            against=quickest(fold_all),
            most=8.0,
            most_took=2.0,
        )
    ]
