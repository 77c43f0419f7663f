"""Addresses of the dashboards."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from dashboards.pages.views import adherence, attendance, caseload, dose, hours, outcomes, overdue, progression, timeline

app_name = "dashboards"
urlpatterns: list[URLPattern | URLResolver] = [
    path("caseload/", caseload.caseload, name="caseload"),
    path("caseload/table.csv", caseload.caseload_csv, name="caseload_csv"),
    path("practice/adherence/", adherence.adherence, name="adherence"),
    path("practice/adherence/table.csv", adherence.adherence_csv, name="adherence_csv"),
    path("practice/dose/", dose.dose, name="dose"),
    path("practice/dose/table.csv", dose.dose_csv, name="dose_csv"),
    path("practice/overdue/", overdue.overdue, name="overdue"),
    path("practice/overdue/table.csv", overdue.overdue_csv, name="overdue_csv"),
    path("practice/progression/", progression.progression, name="progression"),
    path("practice/course/", progression.course, name="course"),
    path("practice/course/table.csv", progression.course_csv, name="course_csv"),
    path("practice/progression/table.csv", progression.progression_csv, name="progression_csv"),
    path("practice/no-shows/", attendance.attendance, name="attendance"),
    path("practice/no-shows/table.csv", attendance.attendance_csv, name="attendance_csv"),
    path("practice/hours/", hours.hours, name="hours"),
    path("practice/hours/table.csv", hours.hours_csv, name="hours_csv"),
    path("practice/outcomes/", outcomes.outcomes, name="outcomes"),
    path("practice/outcomes/table.csv", outcomes.outcomes_csv, name="outcomes_csv"),
    path("clients/<uuid:public_id>/timeline/", timeline.timeline, name="timeline"),
    path("clients/<uuid:public_id>/timeline/table.csv", timeline.timeline_csv, name="timeline_csv"),
]
