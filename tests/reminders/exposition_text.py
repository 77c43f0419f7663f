"""A strict reader of the text exposition format, written from its description and not from our writer.

Source: prometheus.io/docs/instrumenting/exposition_formats, "Text format details" and "Line format", version 0.0.4;
names as in prometheus.io/docs/concepts/data_model. Where the description allows several forms only one is taken.
"""

from __future__ import annotations

import re

NAME = r"[a-zA-Z_:][a-zA-Z0-9_:]*"
LABEL = r'([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\[\\"n])*)"'
SAMPLE = re.compile(rf"({NAME})(?:\{{((?:{LABEL})(?:,{LABEL})*)\}})? ([^ ]+)")
KINDS = {"counter", "gauge", "histogram", "summary", "untyped"}
ESCAPES = {"\\\\": "\\", '\\"': '"', "\\n": "\n"}


def read(text: str) -> dict[str, dict[tuple[tuple[str, str], ...], float]]:
    """The samples by name and labels. ValueError names the first line that breaks a rule."""
    if not text.endswith("\n"):
        raise ValueError("the last line does not end")
    helps, kinds, found, group = set(), {}, {}, ""
    for line in text.split("\n")[:-1]:
        if comment := re.fullmatch(rf"# (HELP|TYPE) ({NAME}) (.*)", line):
            word, name, rest = comment.groups()
            if name in found or name in (helps if word == "HELP" else kinds):
                raise ValueError(f"{word} comes late or twice: {line}")
            if word == "HELP":
                if re.search(r"\\(?![\\n])", rest.replace("\\\\", "")):
                    raise ValueError(f"a lone backslash: {line}")
                helps.add(name)
            elif rest not in KINDS:
                raise ValueError(f"no such type: {line}")
            else:
                kinds[name] = rest
            continue
        sample = SAMPLE.fullmatch(line)
        if not sample:
            raise ValueError(f"neither a comment nor a sample: {line}")
        name = sample[1]
        if name != group and name in found:   # "All lines for a given metric must be provided as one single group"
            raise ValueError(f"apart from the others of its name: {line}")
        labels = tuple(sorted((key, _plain(value)) for key, value in re.findall(LABEL, sample[2] or "")))
        if len({key for key, _ in labels}) != len(labels) or labels in found.setdefault(name, {}):
            raise ValueError(f"the same labels twice: {line}")
        group, found[name][labels] = name, float(sample[sample.re.groups])
    if set(found) - set(kinds):
        raise ValueError("a name without a type")
    return found


def _plain(value: str) -> str:
    return re.sub(r'\\[\\"n]', lambda escape: ESCAPES[escape[0]], value)
