"""Pages of following."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from programs.following import views

app_name = "following"
urlpatterns: list[URLPattern | URLResolver] = [
    path("suggestions/", views.suggestions, name="suggestions"),
    path("suggestions/<uuid:public_id>/accept/", views.accept, name="accept"),
    path("suggestions/<uuid:public_id>/decline/", views.decline, name="decline"),
    path("alerts/", views.alerts, name="alerts"),
    path("alerts/<uuid:public_id>/close/", views.close, name="close_alert"),
    path("programs/<uuid:public_id>/logs/", views.logs, name="logs"),
]
