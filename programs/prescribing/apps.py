from django.apps import AppConfig


class PrescribingConfig(AppConfig):
    name = "programs.prescribing"
    label = "prescribing"
