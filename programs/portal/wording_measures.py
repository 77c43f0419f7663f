"""What was measured, in plain words: what a measure is about, and what a difference means."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from clinic.visits.rules.change import Change

MEASURES = {
    "pain-now": lambda: _("How much it hurts, 0 to 10"),
    "psfs": lambda: _("How well you manage the things you chose"),
    "lefs": lambda: _("How well your legs manage daily life"),
    "odi": lambda: _("How much your back gets in your way day to day"),
    "ndi": lambda: _("How much your neck gets in your way day to day"),
    "quickdash": lambda: _("How much your arm gets in your way day to day"),
    "chair-stand-30s": lambda: _("How often you stand up from a chair in 30 seconds"),
    "hip-flexion": lambda: _("How far your hip bends"),
    "hip-extension": lambda: _("How far your hip goes back"),
    "knee-flexion": lambda: _("How far your knee bends"),
    "lunge-distance": lambda: _("How far your ankle bends"),
    "single-leg-stance": lambda: _("How long you stand on one leg"),
    "dash": lambda: _("How much your arm gets in your way day to day"),
    "grip-strength": lambda: _("How strong your grip is"),
    "single-leg-bridge": lambda: _("How often you lift your hips on one leg"),
    "lunge-angle": lambda: _("How far your ankle bends"),
    "knee-extension": lambda: _("How far your knee straightens"),
    "ankle-dorsiflexion": lambda: _("How far your ankle bends"),
    "ankle-plantarflexion": lambda: _("How far your foot points down"),
    "shoulder-flexion": lambda: _("How far your arm goes up in front"),
    "elbow-flexion": lambda: _("How far your elbow bends"),
    "elbow-extension": lambda: _("How far your elbow straightens"),
    "forearm-pronation": lambda: _("How far your palm turns down"),
    "forearm-supination": lambda: _("How far your palm turns up"),
}
UNITS = {
    "points": lambda count: ngettext("point", "points", count), "stands": lambda count: ngettext("time", "times", count),
    "times": lambda count: ngettext("time", "times", count), "s": lambda count: ngettext("second", "seconds", count),
    "°": lambda count: ngettext("degree", "degrees", count),
}   # by how many: only one is one, also in Spanish ("1,5 puntos")
SIDES = {"left": lambda: _("left"), "right": lambda: _("right"), "both": lambda: _("both sides")}


def measure_in_words(code: str, name: str) -> str:
    """What a measure is about; its own name where we have no plainer words."""
    return MEASURES[code]() if code in MEASURES else name


def unit_in_words(unit: str, value: float) -> str:
    """'degrees' for '°', 'degree' for one of them; 'kg' stays as it is."""
    return UNITS[unit](1 if value == 1 else 2) if unit in UNITS else unit


def side_of_measure(side: str) -> str:
    """'left'; nothing for a measure without sides."""
    return SIDES[side]() if side in SIDES else ""


def change_in_words(change: Change | None) -> str:
    """What the newest value means beside the first."""
    if change is None:
        return _("Measured once so far.")
    match change.code:
        case "improved_beyond_mcid":
            return _("Better than at first, by as much as most people can feel.")
        case "worse_beyond_mcid":
            return _("Worse than at first. Ask your clinician what this means for you.")
        case "changed_beyond_error":
            return _("A little better than at first.") if change.better else _("A little worse than at first.")
        case "no_detectable_change":
            return _("About the same as at first. A difference this small can be chance.")
    if change.better:
        return _("On the way up. We cannot say yet if this is more than chance.")
    return _("Not better than at first. We cannot say yet if this is more than chance.")
