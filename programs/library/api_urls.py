"""The library's API routes."""

from django.urls import URLPattern, URLResolver, path

from programs.library import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("exercises", api.ExerciseListView.as_view(), name="exercises"),
    path("exercises/<slug:slug>", api.ExerciseView.as_view(), name="exercise"),
]
