"""Pages of following."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from programs.following.views import following, notes, rules

app_name = "following"
urlpatterns: list[URLPattern | URLResolver] = [
    path("suggestions/", following.suggestions, name="suggestions"),
    path("suggestions/<uuid:public_id>/accept/", following.accept, name="accept"),
    path("suggestions/<uuid:public_id>/alter/", following.alter, name="alter"),
    path("suggestions/<uuid:public_id>/decline/", following.decline, name="decline"),
    path("alerts/", following.alerts, name="alerts"),
    path("alerts/<uuid:public_id>/close/", following.close, name="close_alert"),
    path("programs/<uuid:public_id>/logs/", following.logs, name="logs"),
    path("notes/", notes.conversations, name="conversations"),
    path("programs/<uuid:public_id>/notes/", notes.conversation, name="notes"),
    path("programs/<uuid:public_id>/notes/read/", notes.read, name="read_notes"),
    path("rules/", rules.rules, name="rules"),
    path("rules/what-if/", rules.what_if, name="what_if"),
    path("rules/publish/", rules.publish, name="publish_rules"),
    path("practice/drop-out/", rules.drop_out, name="drop_out"),
]
