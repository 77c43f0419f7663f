"""API routes of people."""

from __future__ import annotations

from django.urls import path

from clinic.people import api

urlpatterns = [
    path("clients", api.Clients.as_view(), name="clients"),
    path("clients/<uuid:public_id>", api.OneClient.as_view(), name="client"),
    path("clients/<uuid:public_id>/episodes", api.Episodes.as_view(), name="episodes"),
]
