"""The practice lead changes thresholds: a new version of the rule set, with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.following import rule_words
from programs.following.actions import saving
from programs.following.models import RuleSet
from programs.following.rules import ruleset

MOST_REASON = 200


@transaction.atomic
def publish_rule_set(
    *, by: User, values: Mapping[str, float], reason: str, based_on: int, now: datetime
) -> RuleSet:
    """Write the next version with these thresholds changed. Programs are worked out with it at the next tick; nothing that
    was decided changes.

    Refusal: `invalid` (400) naming each threshold that is unknown or outside its bounds, or a missing reason;
    `nothing_changed` (409); `changed_meanwhile` (412) when `based_on` is not the newest version. NotThere for who is no lead.
    """
    if by.role != Role.LEAD:
        raise NotThere
    newest, rules = saving.rules_now(now)
    if newest.version != based_on:
        raise _meanwhile(newest.version)
    wrong = ruleset.problems(newest.thresholds, values)
    if not 1 <= len(reason.strip()) <= MOST_REASON or "\x00" in reason:
        wrong["reason"] = f"Say in 1 to {MOST_REASON} characters why."
    if wrong:
        raise Refusal("invalid", "The rule set cannot be used like this.", status=400, fields=wrong)
    changes = {name: value for name, value in values.items() if rules.numbers[name] != value}
    if not changes:
        raise Refusal("nothing_changed", "Every threshold is as it was. There is nothing to publish.")
    row = _written(by, newest, _changed(newest.thresholds, changes), reason.strip(), now)
    audit.record(
        by=by, verb="publish_rule_set", kind="rule_set", public_id=row.version, at=now, client=None,
        changes={name: [rules.numbers[name], value] for name, value in sorted(changes.items())},
    )
    return row


def _changed(data: Mapping[str, Any], changes: Mapping[str, float]) -> dict[str, Any]:
    changed: dict[str, Any] = deepcopy(dict(data))
    for name, value in changes.items():
        changed["thresholds"][name]["value"] = value
    return changed


def _written(by: User, newest: RuleSet, data: dict[str, Any], reason: str, now: datetime) -> RuleSet:
    wrong = rule_words.out_of_order({row.name: row.value for row in ruleset.thresholds(data)})
    if wrong:   # each is within its bounds
        raise Refusal("invalid", wrong, status=400)
    try:
        with transaction.atomic():
            return RuleSet.objects.create(version=newest.version + 1, thresholds=data, author=by, reason=reason, at=now)
    except IntegrityError as error:   # somebody published at this very moment
        raise _meanwhile(newest.version + 1) from error


def _meanwhile(version: int) -> Refusal:
    return Refusal(
        "changed_meanwhile", f"Version {version} of the rule set was published meanwhile. Look at it and decide anew.",
        status=412, version=version,
    )
