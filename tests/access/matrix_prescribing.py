"""Who may open what of prescribing. The program is Ada's, by Mina, from today. The desk sees nothing clinical."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone

from programs.library.models import Exercise, Level
from programs.library.rules.dose import Reps, Span, dose_to_json
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from programs.prescribing.rules.plan_json import plan_to_json
from tests.access.roles import Row

#                anonymous ada  bo   desk mina theo lead deactivated
CLINICAL_PAGE = (302, 404, 404, 404, 200, 200, 200, 302)   # templates: nobody's data
READ_PAGE = (302, 404, 404, 404, 200, 404, 200, 302)
WRITE_PAGE = (302, 404, 404, 404, 200, 404, 404, 302)
DONE = (302, 404, 404, 404, 302, 404, 404, 302)
CLINICAL_API = (401, 404, 404, 404, 200, 200, 200, 401)
READ_API = (401, 404, 404, 404, 200, 404, 200, 401)
WRITE_API = (401, 404, 404, 404, 200, 404, 404, 401)
MADE = (401, 404, 404, 404, 201, 404, 404, 401)
WITHOUT_IF_MATCH = (401, 404, 404, 404, 428, 404, 404, 401)


def _plan() -> Plan:
    dose = Reps(Span(1, 2), Span(8, 12))
    exercise = Exercise.objects.create(
        slug="clamshell", name="Clamshell", region="hip", kind="strength", side="each", setup="Lie on your side.",
        feel="Work at the hip.", not_feel="Back pain.",
    )
    Level.objects.create(exercise=exercise, number=1, name="Feet together", dose=dose_to_json(dose))
    return Plan(
        timezone.now().date(), (PhasePlan("kick_off", 7, Span(1, 2)), PhasePlan("maintenance", None, Span(1, 1), 2)),
        (ItemPlan(UUID(int=1), "clamshell", 1, dose, "each"),),
    )


def _given(cast):
    now = timezone.now()
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=_plan(), title="Hip start", starts=now.date(), now=now
    )


def _program(cast):
    return {"public_id": _given(cast).public_id}


def _paused(cast):
    program = _given(cast)
    pause_program(by=cast.mina.user, program=program, reason="Flu", now=timezone.now())
    return {"public_id": program.public_id}


def _template(cast):
    template = save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=_plan(), now=timezone.now())
    return {"slug": template.slug}


def _episode(cast):
    return {"episode": str(cast.ada_hip.public_id)}


def _asked(cast):
    return {
        **_episode(cast), "title": "Hip start", "starts": timezone.now().date().isoformat(),
        "plan": plan_to_json(_plan()),
    }


def _client(cast):
    return {"public_id": cast.ada.public_id}


_ANSWERS = {"red_flags": "none", "signs": "none", "diseases": "none", "active": "no", "intensity": "light_moderate"}
_TOLD = {"active": False, "intensity": "light_moderate", "red_flags": [], "signs": [], "diseases": []}
_WORDS = {"name": "Hip, the long way", "summary": "For stiff hips."}
ROWS = [
    Row("GET", "prescribing:templates", CLINICAL_PAGE),
    Row("GET", "prescribing:template", CLINICAL_PAGE, _template),
    Row("GET", "prescribing:template-edit", CLINICAL_PAGE, _template),
    Row("POST", "prescribing:template-edit", (302, 404, 404, 404, 302, 302, 302, 302), _template, body=lambda cast: _WORDS),
    Row("GET", "prescribing:template-from", WRITE_PAGE, _program),
    Row("POST", "prescribing:template-from", DONE, _program, body=lambda cast: _WORDS),
    Row("GET", "prescribing:find", WRITE_PAGE, query=_episode),
    Row("GET", "prescribing:compare", READ_PAGE, _program),
    Row("GET", "prescribing:as-client", READ_PAGE, _program),
    Row("GET", "prescribing:handout-pdf", READ_PAGE, _program),
    Row("GET", "prescribing:new", WRITE_PAGE, query=_episode),
    # the episode is named in the address, so a POST without it finds nothing
    Row("POST", "prescribing:new", (302, 404, 404, 404, 404, 404, 404, 302), body=_episode),
    Row("GET", "prescribing:program", READ_PAGE, _program),
    Row("GET", "prescribing:screening", READ_PAGE, _client),
    Row("POST", "prescribing:screening", DONE, _client, body=lambda cast: _ANSWERS),
    Row("GET", "prescribing:handout", READ_PAGE, _program),
    Row("GET", "prescribing:revise", WRITE_PAGE, _program),
    Row("POST", "prescribing:revise", WRITE_PAGE, _program, body=lambda cast: {"do": "preview"}),
    Row("POST", "prescribing:pause", DONE, _program, body=lambda cast: {"reason": "Flu"}),
    Row("POST", "prescribing:resume", DONE, _paused),
    Row("POST", "prescribing:end", DONE, _program, body=lambda cast: {"status": "completed"}),
    Row("GET", "api:templates", CLINICAL_API),
    Row("POST", "api:templates", MADE, body=lambda cast: {"program": str(_given(cast).public_id), **_WORDS}),
    Row("GET", "api:one-template", CLINICAL_API, _template),
    Row("PATCH", "api:one-template", CLINICAL_API, _template, body=lambda cast: _WORDS),
    Row("GET", "api:client-screenings", READ_API, _client),
    Row("POST", "api:client-screenings", MADE, _client, body=lambda cast: _TOLD),
    Row("GET", "api:programs", CLINICAL_API),
    Row("POST", "api:programs", MADE, body=_asked),
    Row("GET", "api:program", READ_API, _program),
    Row("POST", "api:program-revisions", WITHOUT_IF_MATCH, _program),
    Row("POST", "api:program-pause", WRITE_API, _program, body=lambda cast: {"reason": "Flu"}),
    Row("POST", "api:program-resume", WRITE_API, _paused),
    Row("POST", "api:program-end", WRITE_API, _program, body=lambda cast: {"status": "completed"}),
]
