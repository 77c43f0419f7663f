from importlib import import_module

from django.apps import AppConfig


class PortalConfig(AppConfig):
    name = "programs.portal"
    label = "portal"

    def ready(self) -> None:
        import_module("programs.portal.receivers")   # the models must be loaded first
        import_module("programs.portal.catalogue").load()
