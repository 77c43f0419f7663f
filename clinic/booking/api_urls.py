"""Addresses of the API of booking."""

from django.urls import URLPattern, URLResolver, path

from clinic.booking import api, api_moves

urlpatterns: list[URLPattern | URLResolver] = [
    path("openings", api.OpeningsApi.as_view(), name="openings"),
    path("appointments", api.AppointmentsApi.as_view(), name="appointments"),
    path("appointments/<uuid:public_id>", api.AppointmentApi.as_view(), name="appointment"),
    path("appointments/<uuid:public_id>/move", api.MoveApi.as_view(), name="appointment-move"),
    path("appointments/<uuid:public_id>/cancel", api.CancelApi.as_view(), name="appointment-cancel"),
    path("appointments/<uuid:public_id>/mark", api.MarkApi.as_view(), name="appointment-mark"),
    path("proposed-moves", api_moves.ProposedMovesApi.as_view(), name="proposed-moves"),
    path("proposed-moves/<uuid:public_id>/ask", api_moves.AskMoveApi.as_view(), name="proposed-move-ask"),
    path("proposed-moves/<uuid:public_id>/confirm", api_moves.ConfirmMoveApi.as_view(), name="proposed-move-confirm"),
]
