"""The client's pages."""

from django.urls import URLPattern, URLResolver, path

from programs.portal.views import help as way_out
from programs.portal.views import manifest, morning, session, today, visits, weeks

app_name = "portal"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", today.today, name="today"),
    path("app.webmanifest", manifest.manifest, name="manifest"),
    path("session/", session.session, name="session"),
    path("session/saved/<uuid:public_id>/", session.saved, name="saved"),
    path("morning/", morning.morning, name="morning"),
    path("weeks/", weeks.weeks, name="weeks"),
    path("visits/", visits.visits, name="visits"),
    path("visits/<uuid:public_id>/cancel/", visits.cancel, name="cancel"),
    path("help/", way_out.help_page, name="help"),
    path("help/stop/", way_out.stop, name="stop"),
]
