"""What a client reads of the library in another language than English: whether it is whole, and reading it out.

A translation keeps the order of the English levels and cues, so that each sentence stands for one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

LANGUAGES = ("es",)   # primary BCP 47 subtags beside English; the library must be whole in each
TEXTS = {"name": 80, "setup": 600, "feel": 200, "not_feel": 200}   # characters at most
LEVEL_TEXTS = {"name": 80, "harder_because": 160}
MOST_CUE, MOST_REASON = 120, 200


@dataclass(frozen=True, slots=True)
class ExerciseWords:
    """What a client reads of an exercise."""

    name: str
    setup: str
    feel: str
    not_feel: str


@dataclass(frozen=True, slots=True)
class LevelWords:
    """What a client reads of one level. `harder_because` is empty for the easiest."""

    name: str
    harder_because: str
    cues: tuple[str, ...]


def words_in(said: Mapping[str, Mapping[str, Any]], language: str) -> Mapping[str, Any]:
    """The words of a BCP 47 tag by its primary subtag; empty when there are none, which means English."""
    return said.get(language.replace("_", "-").split("-")[0].lower(), {})


def check_translation(entry: Mapping[str, Any], words: Any) -> list[str]:
    """What is wrong with the words of an exercise beside its English entry, each as "part: sentence".

    `entry` has passed `check_entry`; `words` has the parts of TEXTS and "levels", a list in the order of the English one.
    """
    if not isinstance(words, Mapping):
        return ["exercise: must be an object"]
    return [
        *_extra("", words, {*TEXTS, "levels"}),
        *(fault for part, most in TEXTS.items() for fault in _text(part, words.get(part), entry[part], most)),
        *_levels(entry["levels"], words.get("levels")),
    ]


def check_reasons(reasons: Mapping[str, Any], wanted: frozenset[str]) -> list[str]:
    """What is wrong with the reasons of precautions, keyed by the English sentence; `wanted` are those of the library."""
    faults = [f"{reason!r} is missing" for reason in sorted(wanted - set(reasons))]
    faults += [f"{reason!r} is the reason of no precaution" for reason in sorted(set(reasons) - wanted)]
    for reason in sorted(wanted & set(reasons)):
        faults += _text(repr(reason), reasons[reason], reason, MOST_REASON)
    return faults


def _levels(english: list[Mapping[str, Any]], levels: Any) -> Iterator[str]:
    if not isinstance(levels, list) or len(levels) != len(english):
        yield f"levels: must be a list of {len(english)}, as in English"
        return
    for number, (level, words) in enumerate(zip(english, levels, strict=True), start=1):
        where = f"levels[{number}]"
        if not isinstance(words, Mapping):
            yield f"{where}: must be an object"
            continue
        yield from _extra(f"{where}.", words, {*LEVEL_TEXTS, "cues"})
        for part, most in LEVEL_TEXTS.items():
            yield from _text(f"{where}.{part}", words.get(part), level.get(part, ""), most)
        cues = words.get("cues")
        if not isinstance(cues, list) or len(cues) != len(level["cues"]):
            yield f"{where}.cues: must be a list of {len(level['cues'])}, as in English"
            continue
        for place, (cue, said) in enumerate(zip(level["cues"], cues, strict=True), start=1):
            yield from _text(f"{where}.cues[{place}]", said, cue, MOST_CUE)


def _extra(where: str, words: Mapping[str, Any], parts: set[str]) -> Iterator[str]:
    yield from (f"{where}{part}: there is no such part" for part in sorted(set(words) - parts))


def _text(where: str, text: Any, english: str, most: int) -> Iterator[str]:
    """A text is as long as allowed, there when the English one is, and not the English one.

    A single word may be the same in both languages.
    """
    if not isinstance(text, str):
        yield f"{where}: must be a text"
    elif bool(text.strip()) != bool(english.strip()):
        yield f"{where}: must say what the English does" if english.strip() else f"{where}: the English says nothing here"
    elif len(text) > most:
        yield f"{where}: may have {most} characters at most, not {len(text)}"
    elif len(text.split()) > 1 and _plain(text) == _plain(english):
        yield f"{where}: is still English"


def _plain(text: str) -> str:
    return " ".join(text.casefold().split()).rstrip(".")
