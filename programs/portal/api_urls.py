"""The client's API."""

from django.urls import URLPattern, URLResolver, path

from programs.portal.api import details, moves, notes, offers, own, paper, program, push, visits

urlpatterns: list[URLPattern | URLResolver] = [
    path("me", program.Me.as_view(), name="me"),
    path("me/today", program.Today.as_view(), name="my-today"),
    path("me/plan", program.Plan.as_view(), name="my-plan"),
    path("me/weeks", program.Weeks.as_view(), name="my-weeks"),
    path("me/sessions", program.Sessions.as_view(), name="my-sessions"),
    path("me/mornings", program.Mornings.as_view(), name="my-mornings"),
    path("me/alerts", program.Alerts.as_view(), name="my-alerts"),
    path("me/notes", notes.Notes.as_view(), name="my-notes"),
    path("me/notes/read", notes.ReadNotes.as_view(), name="read-my-notes"),
    path("me/visits", visits.Visits.as_view(), name="my-visits"),
    path("me/openings", visits.Openings.as_view(), name="my-openings"),
    path("me/visits/<uuid:public_id>/cancel", visits.CancelVisit.as_view(), name="cancel-my-visit"),
    path("me/visits/<uuid:public_id>/confirm", visits.ConfirmVisit.as_view(), name="confirm-my-visit"),
    path("me/visits/<uuid:public_id>/move", visits.MoveVisit.as_view(), name="move-my-visit"),
    path("me/visits/<uuid:public_id>/calendar", visits.VisitFile.as_view(), name="my-visit-file"),
    path("me/offers", offers.Offers.as_view(), name="my-offers"),
    path("me/offers/<uuid:public_id>/accept", offers.AcceptOffer.as_view(), name="accept-my-offer"),
    path("me/offers/<uuid:public_id>/decline", offers.DeclineOffer.as_view(), name="decline-my-offer"),
    path("me/proposed", moves.ProposedMoves.as_view(), name="my-proposed-moves"),
    path("me/proposed/<uuid:public_id>/accept", moves.AcceptMove.as_view(), name="accept-my-proposed-move"),
    path("me/proposed/<uuid:public_id>/decline", moves.DeclineMove.as_view(), name="decline-my-proposed-move"),
    path("me/programs/<uuid:public_id>/handout", paper.Handout.as_view(), name="my-handout"),
    path("me/reminders", own.Reminders.as_view(), name="my-reminders"),
    path("me/details", details.Details.as_view(), name="my-details"),
    path("me/corrections", details.Corrections.as_view(), name="my-corrections"),
    path("me/push", push.PushDevices.as_view(), name="my-push-devices"),
    path("me/push/remove", push.RemovePushDevice.as_view(), name="remove-my-push-device"),
    path("me/devices", own.Devices.as_view(), name="my-devices"),
    path("me/devices/<uuid:public_id>/end", own.EndDevice.as_view(), name="end-my-device"),
    path("me/measures", own.Measures.as_view(), name="my-measures"),
]
