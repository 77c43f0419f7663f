"""Reads the portal's Spanish out of its .po file at start: the compiled form is never written to disk.

The .po form and its plural rule are GNU gettext's; Python's own gettext reads the compiled form, made here in memory.
"""

from __future__ import annotations

import ast
import struct
from gettext import GNUTranslations
from io import BytesIO
from pathlib import Path

from django.utils.translation import trans_real

LANGUAGE = "es"
PATH = Path(__file__).parent / "locale" / LANGUAGE / "LC_MESSAGES" / "django.po"
CONTEXT, PLURAL = "\x04", "\x00"   # what gettext puts between a context and its text, and between forms
Catalogue = dict[str, str]


def read_po(text: str) -> Catalogue:
    """(context EOT) msgid (NUL plural) -> msgstr forms, NUL between them. ValueError names the line that cannot be read."""
    found: Catalogue = {}
    entry: dict[str, str] = {}
    field = ""
    for number, line in enumerate([*text.splitlines(), "", "msgid"], start=1):
        line = line.strip()
        if not line or line.startswith("#"):
            continue
        if line.startswith('"'):
            entry[field] += _literal(line, number)
            continue
        word, _, rest = line.partition(" ")
        if word in {"msgctxt", "msgid"} and any(name.startswith("msgstr") for name in entry):
            _take(found, entry)
            entry = {}
        field = word
        entry[field] = _literal(rest, number) if rest else ""
    return found


def _literal(text: str, number: int) -> str:
    try:
        value = ast.literal_eval(text)
    except (SyntaxError, ValueError) as error:
        raise ValueError(f"line {number} cannot be read: {text}") from error
    return str(value)


def _take(found: Catalogue, entry: dict[str, str]) -> None:
    key = f"{entry['msgctxt']}{CONTEXT}{entry['msgid']}" if "msgctxt" in entry else entry["msgid"]
    if "msgid_plural" in entry:
        key = f"{key}{PLURAL}{entry['msgid_plural']}"
    found[key] = PLURAL.join(value for name, value in entry.items() if name.startswith("msgstr"))


def compiled(catalogue: Catalogue) -> bytes:
    """The catalogue in gettext's compiled form: a header of seven words, two tables of (length, offset), the texts."""
    pairs = sorted((key.encode(), value.encode()) for key, value in catalogue.items())
    keys_at, values_at = 28, 28 + 8 * len(pairs)
    at = values_at + 8 * len(pairs)
    tables: list[bytes] = []
    texts: list[bytes] = []
    for column in (0, 1):
        for pair in pairs:
            tables.append(struct.pack("<II", len(pair[column]), at))
            texts.append(pair[column] + b"\0")
            at += len(pair[column]) + 1
    header = struct.pack("<7I", 0x950412DE, 0, len(pairs), keys_at, values_at, 0, at)
    return header + b"".join(tables) + b"".join(texts)


def load() -> None:
    """Put the portal's sentences beside the framework's own Spanish."""
    catalogue = GNUTranslations(BytesIO(compiled(read_po(PATH.read_text("utf-8")))))
    trans_real.translation(LANGUAGE).merge(catalogue)
