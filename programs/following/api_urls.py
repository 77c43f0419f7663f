"""API routes of following."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from programs.following import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("suggestions", api.Suggestions.as_view(), name="suggestions"),
    path("suggestions/<uuid:public_id>/accept", api.Accept.as_view(), name="accept_suggestion"),
    path("suggestions/<uuid:public_id>/alter", api.Alter.as_view(), name="alter_suggestion"),
    path("suggestions/<uuid:public_id>/decline", api.Decline.as_view(), name="decline_suggestion"),
    path("alerts", api.Alerts.as_view(), name="alerts"),
    path("alerts/<uuid:public_id>/close", api.CloseAlert.as_view(), name="close_alert"),
]
