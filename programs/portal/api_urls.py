"""The client's API."""

from django.urls import URLPattern, URLResolver, path

from programs.portal import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("me", api.Me.as_view(), name="me"),
    path("me/today", api.Today.as_view(), name="my-today"),
    path("me/plan", api.Plan.as_view(), name="my-plan"),
    path("me/weeks", api.Weeks.as_view(), name="my-weeks"),
    path("me/sessions", api.Sessions.as_view(), name="my-sessions"),
    path("me/mornings", api.Mornings.as_view(), name="my-mornings"),
    path("me/alerts", api.Alerts.as_view(), name="my-alerts"),
    path("me/visits", api.Visits.as_view(), name="my-visits"),
    path("me/visits/<uuid:public_id>/cancel", api.CancelVisit.as_view(), name="cancel-my-visit"),
]
