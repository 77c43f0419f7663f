"""Who may do what with suggestions, alerts and logs."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

from django.utils import timezone

from programs.following.models import Alert, Note, RuleSet, Suggestion
from programs.following.rules import ruleset
from programs.library.models import Exercise, Level
from programs.prescribing.models import Item, Phase, Program, Revision
from tests.access.roles import Row

DOSE = {"type": "reps", "sets": [1, 2], "reps": [8, 10], "tempo": 4, "rest": 0}
KEY = UUID(int=1)


def program(cast) -> Program:
    """Ada's program, from today, written row by row so that the matrix stands on tables alone."""
    today = timezone.now().date()
    held, new = Program.objects.get_or_create(
        episode=cast.ada_hip,
        defaults={
            "client": cast.ada, "clinician": cast.mina, "title": "Hip", "status": "active", "starts": today,
            "created": timezone.now(),
        },
    )
    if new:
        exercise = Exercise.objects.create(slug="matrix-squat", name="Squat", region="hip", kind="strength", side="both")
        level = Level.objects.create(exercise=exercise, number=1, name="One", dose=DOSE)
        revision = Revision.objects.create(
            program=held, number=1, effective_from=today, anchor=today, author=cast.mina.user, reason="First",
            at=timezone.now(),
        )
        Phase.objects.create(revision=revision, number=1, kind="kick_off", days=7)
        Item.objects.create(
            revision=revision, key=KEY, position=1, exercise=exercise, level=level, side="both", dose=DOSE
        )
    return held


def thresholds() -> dict[str, dict]:
    return json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text())


def suggestion(cast) -> dict[str, object]:
    held = program(cast)
    rules, _ = RuleSet.objects.get_or_create(
        version=99, defaults={"thresholds": thresholds(), "author": cast.mina.user, "reason": "x", "at": timezone.now()}
    )
    evidence = {"rule": "red_flag", "observed": {}, "threshold": {}, "source": "", "logs": [], "change": {}}
    row = Suggestion.objects.create(
        program=held, kind="contact", evidence=evidence, rule_set=rules, revision=held.revisions.get(), made=timezone.now()
    )
    return {"public_id": row.public_id}


def look(cast) -> dict[str, object]:
    """A look at the measures, which can be put on another day."""
    found = suggestion(cast)
    Suggestion.objects.filter(**found).update(kind="reassess")
    return found


def day(cast) -> dict[str, str]:
    return {"effective_from": (timezone.now().date() + timedelta(days=2)).isoformat()}


def rule_set(cast) -> dict[str, object]:
    RuleSet.objects.get_or_create(
        version=99, defaults={"thresholds": thresholds(), "author": cast.mina.user, "reason": "x", "at": timezone.now()}
    )
    return {}


def typed(cast) -> dict[str, object]:
    values = {row.name: row.written(row.value) for row in ruleset.thresholds(thresholds())}
    return {**values, "bands.silent_after": 6, "reason": "Ours answer daily", "based_on": 99}


def threshold(cast) -> dict[str, object]:
    rule_set(cast)
    return {"threshold": "bands.silent_after", "value": "5", "weeks": "4"}


def alert(cast) -> dict[str, object]:
    row = Alert.objects.create(answer_id=uuid4(), client=cast.ada, flag="chest_pain", at=timezone.now())
    return {"public_id": row.public_id}


def logs(cast) -> dict[str, object]:
    return {"public_id": program(cast).public_id}


def reason(cast) -> dict[str, str]:
    return {"reason": "Not now"}


def note(cast) -> dict[str, str]:
    return {"note": "Called"}


def words(cast) -> dict[str, str]:
    return {"note_id": str(uuid4()), "text": "How was the bridge?"}


def until(cast) -> dict[str, str]:
    row = Note.objects.create(
        note_id=uuid4(), program=program(cast), from_client=True, text="It pulls", at=timezone.now(), by=cast.ada.user
    )
    return {"until": str(row.note_id)}


def session(cast) -> dict[str, str]:
    return {"log_id": str(uuid4()), "day": timezone.now().date().isoformat(), f"item_{KEY.hex}": "full"}


# fmt: off
#                                                    anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "following:suggestions",              (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("POST", "following:accept",                  (302, 404, 404, 404, 302, 404, 404, 302), make=suggestion),
    Row("POST", "following:decline",                 (302, 404, 404, 404, 302, 404, 404, 302), make=suggestion, body=reason),
    Row("POST", "following:alter",                   (302, 404, 404, 404, 302, 404, 404, 302), make=look, body=day),
    Row("GET", "following:rules",                    (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "following:what_if",                  (302, 404, 404, 404, 200, 200, 200, 302), query=threshold),
    Row("GET", "following:publish_rules",            (302, 404, 404, 404, 404, 404, 200, 302), make=rule_set),
    Row("POST", "following:publish_rules",           (302, 404, 404, 404, 404, 404, 302, 302), make=rule_set, body=typed),
    Row("GET", "following:drop_out",                 (302, 404, 404, 404, 404, 404, 200, 302)),
    Row("GET", "following:alerts",                   (302, 404, 404, 200, 200, 200, 200, 302)),
    Row("POST", "following:close_alert",             (302, 404, 404, 404, 302, 404, 404, 302), make=alert, body=note),
    Row("GET", "following:logs",                     (302, 404, 404, 404, 200, 404, 200, 302), make=logs),
    # the lead reads the same page; logging for a client is a clinician's
    Row("POST", "following:logs",                    (302, 404, 404, 404, 302, 404, 404, 302), make=logs, body=session),
    Row("GET", "following:conversations",            (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "following:notes",                    (302, 404, 404, 404, 200, 404, 200, 302), make=logs),
    # the lead looks on: only who treats the client writes and says that it was read
    Row("POST", "following:notes",                   (302, 404, 404, 404, 302, 404, 404, 302), make=logs, body=words),
    Row("POST", "following:read_notes",              (302, 404, 404, 404, 302, 404, 404, 302), make=logs, body=until),
    Row("GET", "api:suggestions",                    (401, 404, 404, 404, 200, 200, 200, 401)),
    Row("POST", "api:accept_suggestion",             (401, 404, 404, 404, 200, 404, 404, 401), make=suggestion),
    Row("POST", "api:alter_suggestion",              (401, 404, 404, 404, 200, 404, 404, 401), make=look, body=day),
    Row("POST", "api:decline_suggestion",            (401, 404, 404, 404, 200, 404, 404, 401), make=suggestion, body=reason),
    Row("GET", "api:alerts",                         (401, 404, 404, 200, 200, 200, 200, 401)),
    Row("POST", "api:close_alert",                   (401, 404, 404, 404, 200, 404, 404, 401), make=alert, body=note),
]
# fmt: on
