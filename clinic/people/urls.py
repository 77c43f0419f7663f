"""Pages of people."""

from __future__ import annotations

from django.urls import path

from clinic.people import views, views_corrections

app_name = "people"
urlpatterns = [
    path("", views.start, name="start"),
    path("round/", views.tour, name="tour"),
    path("clients/", views.clients, name="clients"),
    path("clients/new/", views.new_client, name="new_client"),
    path("clients/<uuid:public_id>/", views.client, name="client"),
    path("clients/<uuid:public_id>/details/", views.details, name="details"),
    path("clients/<uuid:public_id>/consent/", views.consent, name="consent"),
    path("clients/<uuid:public_id>/conditions/", views.conditions, name="conditions"),
    path("clients/<uuid:public_id>/episodes/new/", views.new_episode, name="new_episode"),
    path("clients/corrections/", views_corrections.corrections, name="corrections"),
    path("clients/corrections/<uuid:public_id>/", views_corrections.correction, name="correction"),
    path("sign-in/link/<str:token>/", views.link, name="link"),
    path("demo/", views.demo, name="demo"),
]
