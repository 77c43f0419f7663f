"""Pages of a list: never an endless one."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

ROWS = 25


def page_of(rows: Any, request: HttpRequest, size: int = ROWS) -> Page[Any]:
    """The page asked for by `?page=`; the nearest one that exists when that is out of range or not a number."""
    return Paginator(rows, size).get_page(request.GET.get("page"))
