from django.apps import AppConfig


class PortalConfig(AppConfig):
    name = "programs.portal"
    label = "portal"
