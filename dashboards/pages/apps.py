from django.apps import AppConfig


class PagesConfig(AppConfig):
    name = "dashboards.pages"
    label = "dashboards"
