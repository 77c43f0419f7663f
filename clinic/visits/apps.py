from django.apps import AppConfig


class VisitsConfig(AppConfig):
    name = "clinic.visits"
    label = "visits"
