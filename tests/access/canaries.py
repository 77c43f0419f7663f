"""Values that nobody could guess, in every clinical field of Ada's record: wherever one turns up, that field got out."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from uuid import uuid4

from django.utils import timezone

from clinic.people.models import Condition, Episode
from clinic.visits.models import Measure, Result, Visit
from programs.following.models import (
    Alert,
    DayRecord,
    ItemLog,
    MorningAnswer,
    Note,
    ProgramState,
    RuleSet,
    SessionLog,
    Suggestion,
)
from programs.prescribing.models import Pause, Program, Screening
from tests.access.matrix_following import KEY, program, thresholds

SECONDS, VALUE, SLOPE = 31337, 41.375, 0.31337   # numbers that no page shows by chance
FIELDS = (
    "complaint", "goals", "title", "words", "note", "visit", "pause", "screening", "alert", "decision", "evidence",
)
WORDS = {name: f"zq{name}zq" for name in FIELDS}
CANARIES = frozenset({*WORDS.values(), str(SECONDS), str(VALUE), str(SLOPE)})


def plant(cast: SimpleNamespace) -> None:
    """Fill Ada's record. What is there already gets the words where it can be changed; the rest is new rows beside it."""
    now, today, by = timezone.now(), timezone.now().date(), cast.mina.user
    Episode.objects.filter(client=cast.ada).update(complaint=WORDS["complaint"], goals=WORDS["goals"])
    held = Program.objects.filter(client=cast.ada).first() or program(cast)
    Program.objects.filter(client=cast.ada).update(title=WORDS["title"])
    revision = held.revisions.order_by("-number").first()
    log = SessionLog.objects.create(
        log_id=uuid4(), program=held, revision=revision, day=today, received=now, source="portal", by=cast.ada.user,
        pain_during=9, pain_before=8, effort=10, rating="too_hard", words=WORDS["words"],
    )
    ItemLog.objects.create(log=log, item_key=KEY, done_left=SECONDS)
    MorningAnswer.objects.create(
        answer_id=uuid4(), program=held, day=today, pain=9, received=now, by=cast.ada.user
    )
    Note.objects.create(note_id=uuid4(), program=held, from_client=True, text=WORDS["note"], at=now, by=cast.ada.user)
    Visit.objects.create(episode=cast.ada_hip, clinician=cast.mina, at=now, note=WORDS["visit"], by=by)
    measure, _ = Measure.objects.get_or_create(
        code="pain-now",
        defaults={"name": "Pain now", "scoring": "single", "item_minimum": 0, "item_maximum": 100, "direction": "lower"},
    )
    Result.objects.create(episode=cast.ada_hip, measure=measure, value=VALUE, at=now, by=by)
    Screening.objects.create(
        client=cast.ada, day=today, asked_by=by, at=now, active=True, intensity="light_moderate", note=WORDS["screening"]
    )
    Condition.objects.get_or_create(client=cast.ada, code="osteoporosis", until=None, defaults={"since": today})
    day = today - timedelta(days=400)   # before the program: no fold meets it
    Pause.objects.create(program=held, first=day, until=day + timedelta(days=1), reason=WORDS["pause"], by=by)
    Alert.objects.create(
        answer_id=uuid4(), client=cast.ada, program=held, flag="chest_pain", at=now, closed_at=now, closed_by=by,
        note=WORDS["alert"],
    )
    DayRecord.objects.update_or_create(
        program=held, day=today, defaults={"state": "prescribed", "logged": True, "done_seconds": SECONDS, "pain": 9}
    )
    ProgramState.objects.update_or_create(
        program=held, defaults={"as_of": today, "band": "low", "pain_slope": SLOPE, "pain_last": 9, "adherence_7": SLOPE}
    )
    rules, _ = RuleSet.objects.get_or_create(
        version=99, defaults={"thresholds": thresholds(), "author": by, "reason": "x", "at": now}
    )
    evidence = {"rule": WORDS["evidence"], "observed": {}, "threshold": {}, "source": "", "logs": [], "change": {}}
    Suggestion.objects.create(
        program=held, kind="taper", evidence=evidence, rule_set=rules, revision=revision, made=now, state="declined",
        decided_by=by, decided_at=now, decision_reason=WORDS["decision"],
    )
