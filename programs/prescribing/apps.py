from importlib import import_module

from django.apps import AppConfig


class PrescribingConfig(AppConfig):
    name = "programs.prescribing"
    label = "prescribing"

    def ready(self) -> None:
        import_module("programs.prescribing.messages")   # registers its message kinds
        import_module("programs.prescribing.client_page")
