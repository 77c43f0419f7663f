"""The API of prescribing."""

from django.urls import URLPattern, URLResolver, path

from programs.prescribing import api, api_screening

urlpatterns: list[URLPattern | URLResolver] = [
    path("templates", api.Templates.as_view(), name="templates"),
    path("templates/<slug:slug>", api.OneTemplate.as_view(), name="one-template"),
    path("clients/<uuid:public_id>/screenings", api_screening.Screenings.as_view(), name="client-screenings"),
    path("programs", api.Programs.as_view(), name="programs"),
    path("programs/<uuid:public_id>", api.OneProgram.as_view(), name="program"),
    path("programs/<uuid:public_id>/revisions", api.Revisions.as_view(), name="program-revisions"),
    path("programs/<uuid:public_id>/pause", api.Pausing.as_view(), name="program-pause"),
    path("programs/<uuid:public_id>/resume", api.Resuming.as_view(), name="program-resume"),
    path("programs/<uuid:public_id>/end", api.Ending.as_view(), name="program-end"),
]
