"""A page of charts, and the file of any one chart on it: each page reads once and is shown either way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.people.refusal import NotThere
from dashboards.figures.cells import cells_of
from dashboards.pages.asking import Chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.live import marked, unchanged

Context = Callable[[], Mapping[str, Any]]
Read = tuple[tuple[object, ...], Context]     # what names the page's state, and what its template is filled with


def charted(request: HttpRequest, template: str, parts: tuple[object, ...], context: Context) -> HttpResponse:
    """The page; 304 to an open page that has these `parts` already, before a figure is built."""
    if same := unchanged(request, *parts):
        return same
    return marked(render(request, template, dict(context())), *parts)


def chart_csv(request: HttpRequest, page: str, read: Callable[[HttpRequest], Read]) -> HttpResponse | None:
    """The file of the chart named by `?chart=`; None when the whole page is asked for. NotThere for one that is not on it."""
    name = request.GET.get("chart")
    if name is None:
        return None
    _, context = read(request)
    found = next((value for value in context().values() if isinstance(value, Chart) and value.name == name), None)
    if found is None:
        raise NotThere
    header, rows = cells_of(found.figure)
    return csv_answer(f"{page}-{name}", header or ["Series"], rows)
