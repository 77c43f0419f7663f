"""My weeks: the dose ribbon, what was done, and when it scales back."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me
from clinic.people.paging import page_of
from programs.portal.queries.weeks import course_of, weeks_of
from programs.portal.rules.days import weeks_back
from programs.portal.views.client_page import client_page

WEEKS = 6   # a page of the table


@client_page()
def weeks(request: HttpRequest) -> HttpResponse:
    """The whole way of the program in one picture, in sentences, and week by week."""
    course = course_of(me(request), timezone.now(), request.GET.get("program"))
    rows = page_of(weeks_back(course.program.starts, course.day) if course.program else [], request, WEEKS)
    table = weeks_of(course.program, list(rows), course.day) if course.program else []
    return render(
        request, "portal/weeks.html", {"course": course, "client": course.client, "weeks": table, "page": rows}
    )
