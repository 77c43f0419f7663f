"""Reads what the library says in other languages: a folder each, with a file a region and one for the reasons."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from programs.library.rules.translation import LANGUAGES, LEVEL_TEXTS, TEXTS, check_reasons, check_translation

Entries = Mapping[str, tuple[str, dict[str, Any]]]   # slug: region and English entry
REASONS = "reasons.json"


class Said:
    """The words of each part of the library by language, in the form that a row stores."""

    def __init__(self) -> None:
        self.exercises: dict[str, dict[str, Any]] = {}   # language: slug: as in the file
        self.reasons: dict[str, dict[str, str]] = {}     # language: English sentence: the sentence

    def exercise(self, slug: str) -> dict[str, Any]:
        """`{"es": {"name": …, "setup": …}}`."""
        return {language: {part: words[slug][part] for part in TEXTS} for language, words in self.exercises.items()}

    def level(self, slug: str, number: int) -> dict[str, Any]:
        """`{"es": {"name": …, "harder_because": …, "cues": […]}}`; `number` counts from 1."""
        parts = (*LEVEL_TEXTS, "cues")
        return {
            language: {part: words[slug]["levels"][number - 1][part] for part in parts}
            for language, words in self.exercises.items()
        }

    def reason(self, english: str) -> dict[str, Any]:
        """`{"es": {"reason": …}}`."""
        return {language: {"reason": words[english]} for language, words in self.reasons.items()}


def read_languages(folder: Path, entries: Entries, read: Callable[[Path], Any]) -> tuple[Said, list[str]]:
    """The words of every language for `entries`, and what is missing, empty, too much or still English in the files of
    `folder`: each fault names file, exercise and part. `read` gives the JSON of a file."""
    said = Said()
    faults: list[str] = []
    wanted = frozenset(row["reason"] for _, entry in entries.values() for row in entry["precautions"])
    for language in LANGUAGES:
        here = folder / language
        regions = {region for region, _ in entries.values()} | {path.stem for path in here.glob("*.json")}
        said.exercises[language] = {}
        for region in sorted(regions - {Path(REASONS).stem}):
            own = {slug: entry for slug, (place, entry) in entries.items() if place == region}
            words = _part(here / f"{region}.json", "exercises", read)
            where = f"{language}/{region}.json"
            faults += _faults(where, words, own)
            said.exercises[language] |= words
        said.reasons[language] = _part(here / REASONS, "reasons", read)
        faults += [f"{language}/{REASONS}: {fault}" for fault in check_reasons(said.reasons[language], wanted)]
    return said, faults


def _part(path: Path, name: str, read: Callable[[Path], Any]) -> dict[str, Any]:
    """One part of a file; empty when the file or the part is not there, so that all of it is missed by name."""
    data = read(path) if path.exists() else {}
    part = data.get(name) if isinstance(data, dict) else None
    return part if isinstance(part, dict) else {}


def _faults(where: str, words: Mapping[str, Any], entries: Mapping[str, dict[str, Any]]) -> Iterator[str]:
    for slug, entry in entries.items():
        if slug in words:
            yield from (f"{where}: {slug}: {fault}" for fault in check_translation(entry, words[slug]))
        else:
            yield f"{where}: {slug}: is missing"
    yield from (f"{where}: {slug}: there is no such exercise in English" for slug in words if slug not in entries)
