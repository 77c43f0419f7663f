"""Addresses of the pages of the book."""

from django.urls import URLPattern, URLResolver, path

from clinic.booking.views import away, calendars, closing, day, finding, groups, notice, series, waitlist

app_name = "booking"
urlpatterns: list[URLPattern | URLResolver] = [
    path("booking/", day.day, name="day"),
    path("booking/new/", finding.new, name="new"),
    path("booking/closed/", closing.closing, name="closing"),
    path("booking/closed/<uuid:public_id>/", closing.remove, name="remove-closing"),
    path("booking/notice/", notice.notice, name="notice"),
    path("booking/groups/", groups.groups, name="groups"),
    path("booking/groups/<uuid:public_id>/", groups.group, name="group"),
    path("booking/series/", series.series, name="series"),
    path("booking/undo/<uuid:public_id>/", day.undo, name="undo"),
    path("booking/<uuid:public_id>/", day.visit, name="visit"),
    path("booking/waitlist/", waitlist.waitlist, name="waitlist"),
    path("booking/waitlist/new/<uuid:public_id>/", waitlist.join, name="join-waitlist"),
    path("booking/waitlist/<uuid:public_id>/leave/", waitlist.leave, name="leave-waitlist"),
    path("booking/<uuid:public_id>/offer/", waitlist.offer, name="offer"),
    path("booking/<uuid:public_id>/move/", finding.move, name="move"),
    path("booking/calendars/", calendars.calendars, name="calendars"),
    path("booking/calendars/<uuid:public_id>/end/", calendars.end, name="end-calendar"),
    path("calendar/<str:secret>.ics", calendars.feed, name="feed"),
    path("booking/away/", away.days, name="away"),
    path("booking/away/<uuid:public_id>/", away.proposal, name="proposal"),
    path("booking/away/moves/<uuid:public_id>/", away.row, name="proposed_move"),
]
