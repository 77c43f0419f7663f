"""Pages of trust."""

from django.urls import URLPattern, URLResolver, path

from clinic.trust import views, views_keeping

app_name = "trust"
urlpatterns: list[URLPattern | URLResolver] = [
    path("records/open/", views.open_page, name="open"),
    path("records/openings/", views.openings, name="openings"),
    path("records/openings/<uuid:public_id>/end/", views.end_opening, name="end_opening"),
    path("clients/<uuid:public_id>/trail/", views.client_trail, name="client_trail"),
    path("clients/<uuid:public_id>/export/", views.export_client, name="export_client"),
    path("clients/<uuid:public_id>/erase/", views.erase_client, name="erase_client"),
    path("clients/<uuid:public_id>/away/", views_keeping.move_away, name="move_away"),
    path("clients/<uuid:public_id>/keep/", views_keeping.keep, name="keep"),
    path("records/away/", views_keeping.away, name="away"),
    path("records/retention/", views_keeping.retention, name="retention"),
    path("portal/everything/", views.export_own, name="export_own"),
    path("records/trail/", views.trail, name="trail"),
]
