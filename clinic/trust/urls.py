"""Pages of trust."""

from django.urls import URLPattern, URLResolver, path

from clinic.trust import views

app_name = "trust"
urlpatterns: list[URLPattern | URLResolver] = [
    path("records/open/", views.open_page, name="open"),
    path("records/openings/", views.openings, name="openings"),
    path("records/openings/<uuid:public_id>/end/", views.end_opening, name="end_opening"),
    path("clients/<uuid:public_id>/trail/", views.client_trail, name="client_trail"),
    path("records/trail/", views.trail, name="trail"),
]
