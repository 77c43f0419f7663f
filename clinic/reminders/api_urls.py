"""API routes of reminders."""

from __future__ import annotations

from django.urls import path

from clinic.reminders import api

urlpatterns = [
    path("messages", api.Messages.as_view(), name="messages"),
    path("messages/<uuid:public_id>/retry", api.Retry.as_view(), name="message_retry"),
]
