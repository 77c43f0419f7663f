"""Pages of visits."""

from __future__ import annotations

from django.urls import path

from clinic.visits import bulk, planning, views

app_name = "visits"
urlpatterns = [
    path("reassessments/", views.reassessments, name="reassessments"),
    path("reassessments/plan/", planning.plan, name="plan"),
    path("reassessments/book/", bulk.book_several, name="book_several"),
    path("reassessments/<uuid:public_id>/book/", views.book, name="book"),
    path("visits/new/", views.new, name="new"),
    path("episodes/<uuid:public_id>/measures/", views.measures, name="measures"),
]
