"""The forms of a page as a browser would see them: which fields each has, and what stands in them."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

_TYPED = {"text", "search", "email", "tel", "url", "number", "date", "time", "datetime-local", "month", "week"}


@dataclass
class Form:
    """One form: its method, and each control's values by name. `typed` are those that a person writes into."""

    method: str
    action: str
    values: dict[str, list[str]] = field(default_factory=dict)
    typed: dict[str, str] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[Form] = []
        self.form: Form | None = None
        self.area: str | None = None
        self.select = ""

    def handle_starttag(self, tag: str, given: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in given}
        if tag == "form":
            self.form = Form(told.get("method", "get").lower(), told.get("action", ""))
            self.forms.append(self.form)
        if self.form is None:
            return
        name = told.get("name", "")
        if tag == "textarea" and name:
            self.area, self.form.typed[name] = name, ""
        elif tag == "select":
            self.select = name
            self.form.choices.setdefault(name, [])
        elif tag == "option" and self.select:
            self.form.choices[self.select].append(told.get("value", ""))
            if "selected" in told:
                self.form.values.setdefault(self.select, []).append(told.get("value", ""))
        elif tag == "input" and name:
            self._input(self.form, name, told)
        elif tag == "button" and name:
            self.form.choices.setdefault(name, []).append(told.get("value", ""))

    def _input(self, form: Form, name: str, told: dict[str, str]) -> None:
        kind, value = told.get("type", "text").lower(), told.get("value", "")
        if kind in _TYPED:
            form.typed[name] = value
        elif kind in {"checkbox", "radio"}:
            form.choices.setdefault(name, []).append(value or "on")
            if "checked" in told:
                form.values.setdefault(name, []).append(value or "on")
        else:
            form.values.setdefault(name, []).append(value)

    def handle_data(self, data: str) -> None:
        if self.form is not None and self.area is not None:
            self.form.typed[self.area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "textarea" and self.form is not None and self.area is not None:
            # the first line break after the tag is no part of the text
            self.form.typed[self.area] = self.form.typed[self.area].removeprefix("\r\n").removeprefix("\n")
            self.area = None
        elif tag == "select":
            self.select = ""


def forms_of(page: str) -> list[Form]:
    """Every form of a page, in its order."""
    reader = _Reader()
    reader.feed(page)
    return reader.forms
