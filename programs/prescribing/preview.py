"""A plan as its client will see it on a phone, in the words and the language of the client."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.utils import translation

from clinic.people.models import Client
from programs.library.rules.dose import ENDS
from programs.library.wording import dose_in_words, equipment_in_words, rounds_in_words
from programs.prescribing.paper.words import STOP, Says, phone_words
from programs.prescribing.rules.plan import DayPlan, ItemPlan, Plan, day_plan
from programs.prescribing.showing import named_items


def client_view(plan: Plan, today: date, client: Client) -> dict[str, Any]:
    """What the client is shown on the first day from `today` on that has a session; `say` are the words around it."""
    say = Says(client.language)
    rows = named_items(plan, say.language)
    days = [max(plan.anchor, today) + timedelta(days=offset) for offset in range(7)] if plan.phases else []
    asked = next((asked for day in days if (asked := day_plan(plan, day)).sessions is not None), None)
    least, most = (sum(row["item"].seconds(end) for row in rows) for end in ENDS)
    about = {"phone": phone_words(client.site.phone), "emergency": client.site.emergency_number}
    return {
        "language": say.language, "say": say.words, "day": say.whole_day(asked.day if asked else today), "asked": asked,
        "head": _head(asked, say) if asked else "",
        "takes": say("takes", minutes=say.minutes(least, most)),
        "times": ", ".join(say(name) for name in asked.phase.times).capitalize() if asked else "",
        "count": say("of", number=0, all=say.span(asked.sessions)) if asked and asked.sessions else "",
        "cards": [
            {
                **row, "number": say("of", number=number, all=len(rows)), "side": say(row["item"].side),
                "dose": _dose(row["item"], say), "needs": _needs(row["exercise"].equipment, say),
                "title": f"{row['words'].name}: {row['level_words'].name}",
            }
            for number, row in enumerate(rows, start=1)
        ],
        "stop": [sentence.format(**about) for sentence in STOP[say.language]],
    }


def _dose(item: ItemPlan, say: Says) -> str:
    """In full, as on the phone; the paper says it shorter."""
    with translation.override(say.language):
        dose = dose_in_words(item.dose)
        return f"{dose}, {rounds_in_words(item.rounds)}" if item.rounds.full > 1 else dose


def _needs(equipment: list[str], say: Says) -> str:
    with translation.override(say.language):
        return equipment_in_words(equipment)


def _head(asked: DayPlan, say: Says) -> str:
    """`Kick-off, day 3 of 7`; without the end where the phase has none, or has gone past it."""
    days = asked.phase.days
    ends = days and asked.day_of_phase <= days
    number = say("of", number=asked.day_of_phase, all=days) if ends else asked.day_of_phase
    return f"{say(asked.phase.kind)}, {say('day')} {number}"
