"""API routes of visits."""

from __future__ import annotations

from django.urls import path

from clinic.visits import api

urlpatterns = [
    path("reassessments", api.Reassessments.as_view(), name="reassessments"),
    path("reassessments/<uuid:public_id>/book", api.BookReassessment.as_view(), name="book_reassessment"),
    path("episodes/<uuid:public_id>/results", api.Results.as_view(), name="results"),
]
