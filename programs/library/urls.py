"""The library's pages."""

from django.urls import URLPattern, URLResolver, path

from programs.library import views

app_name = "library"
urlpatterns: list[URLPattern | URLResolver] = [
    path("library/", views.exercise_list, name="list"),
    path("library/drawings/", views.drawing_sheet, name="drawings"),
    path("library/<slug:slug>/", views.exercise_page, name="exercise"),
]
