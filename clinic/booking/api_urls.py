"""Addresses of the API of booking."""

from django.urls import URLPattern, URLResolver, path

from clinic.booking import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("openings", api.OpeningsApi.as_view(), name="openings"),
    path("appointments", api.AppointmentsApi.as_view(), name="appointments"),
    path("appointments/<uuid:public_id>", api.AppointmentApi.as_view(), name="appointment"),
    path("appointments/<uuid:public_id>/move", api.MoveApi.as_view(), name="appointment-move"),
    path("appointments/<uuid:public_id>/cancel", api.CancelApi.as_view(), name="appointment-cancel"),
    path("appointments/<uuid:public_id>/mark", api.MarkApi.as_view(), name="appointment-mark"),
]
