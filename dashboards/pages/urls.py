"""Addresses of the dashboards."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from dashboards.pages.views import caseload

app_name = "dashboards"
urlpatterns: list[URLPattern | URLResolver] = [
    path("caseload/", caseload.caseload, name="caseload"),
    path("caseload/table.csv", caseload.caseload_csv, name="caseload_csv"),
]
