"""Figures for a monitoring system, in the open text format of Prometheus.

Source: prometheus.io/docs/instrumenting/exposition_formats, "Text format details", version 0.0.4: one line a sample,
HELP and TYPE once and before the samples of their name, `\\` and line feeds escaped, in label values quotes too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"
_NAME = re.compile(r"[a-zA-Z_:][a-zA-Z0-9_:]*\Z")
_LABEL = re.compile(r"(?!__)[a-zA-Z_][a-zA-Z0-9_]*\Z")   # two underlines are kept for the system that reads it


@dataclass(frozen=True)
class Sample:
    """One number and the labels that tell it from others of its name."""

    value: float
    labels: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Gauge:
    """A number that goes up and down. ValueError for a name or a label that the format has no room for."""

    name: str
    help: str
    samples: tuple[Sample, ...]

    def __post_init__(self) -> None:
        wrong = [self.name] if not _NAME.match(self.name) else []
        wrong += [label for sample in self.samples for label, _ in sample.labels if not _LABEL.match(label)]
        if wrong:
            raise ValueError(f"not a name in the text format: {', '.join(wrong)}")


def gauge(name: str, help_text: str, value: float) -> Gauge:
    """A gauge of one number."""
    return Gauge(name, help_text, (Sample(value),))


def by_label(name: str, help_text: str, label: str, values: Mapping[str, float]) -> Gauge:
    """A gauge with one number for each value of one label."""
    return Gauge(name, help_text, tuple(Sample(value, ((label, key),)) for key, value in sorted(values.items())))


def exposition(gauges: Iterable[Gauge]) -> str:
    """The whole answer. ValueError when a name comes twice: a reader would refuse it all."""
    lines, seen = [], set()
    for each in gauges:
        if each.name in seen:
            raise ValueError(f"the figure {each.name} is there twice")
        seen.add(each.name)
        lines += [f"# HELP {each.name} {_escaped(each.help)}", f"# TYPE {each.name} gauge"]
        lines += [f"{each.name}{_labels(sample)} {_number(sample.value)}" for sample in each.samples]
    return "".join(f"{line}\n" for line in lines)


def _labels(sample: Sample) -> str:
    if not sample.labels:
        return ""
    quoted = (f'{label}="{_escaped(value).replace(chr(34), chr(92) + chr(34))}"' for label, value in sample.labels)
    return "{" + ",".join(quoted) + "}"


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace("\n", "\\n")


def _number(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else repr(float(value))
