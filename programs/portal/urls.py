"""The client's pages."""

from django.urls import URLPattern, URLResolver, path

from programs.portal.views import help as way_out
from programs.portal.views import (
    manifest,
    measures,
    morning,
    moves,
    notes,
    offline,
    paper,
    passkeys,
    session,
    settings,
    today,
    tokens,
    visits,
    weeks,
)

app_name = "portal"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", today.today, name="today"),
    path("app.webmanifest", manifest.manifest, name="manifest"),
    path("sw.js", offline.worker, name="worker"),
    path("pocket/", offline.pocket, name="pocket"),
    path("session/", session.session, name="session"),
    path("session/saved/<uuid:public_id>/", session.saved, name="saved"),
    path("morning/", morning.morning, name="morning"),
    path("weeks/", weeks.weeks, name="weeks"),
    path("programs/<uuid:public_id>/handout.pdf", paper.handout, name="handout"),
    path("measures/", measures.measures, name="measures"),
    path("notes/", notes.notes, name="notes"),
    path("notes/read/", notes.read, name="read_notes"),
    path("visits/", visits.visits, name="visits"),
    path("visits/new/", visits.book, name="book"),
    path("visits/proposed/<uuid:public_id>/", moves.proposed, name="proposed"),
    path("visits/<uuid:public_id>/cancel/", visits.cancel, name="cancel"),
    path("visits/<uuid:public_id>/confirm/", visits.confirm, name="confirm"),
    path("visits/<uuid:public_id>/move/", visits.move, name="move"),
    path("visits/<uuid:public_id>/appointment.ics", visits.calendar, name="calendar"),
    path("messages/", settings.reminders, name="messages"),
    path("devices/", settings.devices, name="devices"),
    path("devices/seen/", settings.seen, name="seen"),
    path("devices/<uuid:public_id>/end/", settings.end, name="end_device"),
    path("passkeys/", passkeys.passkeys, name="passkeys"),
    path("passkeys/<int:key>/remove/", passkeys.remove, name="remove_passkey"),
    path("access/", tokens.tokens, name="tokens"),
    path("access/<uuid:public_id>/end/", tokens.end, name="end_token"),
    path("access/<uuid:public_id>/answer/", tokens.answer, name="answer_own_portal"),
    path("clinic/access/", tokens.site_access, name="site_access"),
    path("clinic/access/<uuid:public_id>/end/", tokens.end_site_access, name="end_site_access"),
    path("help/", way_out.help_page, name="help"),
    path("help/stop/", way_out.stop, name="stop"),
    path("help/untold/", offline.untold, name="untold"),
]
