from django.apps import AppConfig


class PagesConfig(AppConfig):
    name = "dashboards.pages"
    label = "dashboards"

    def ready(self) -> None:
        from dashboards.pages import client_page  # noqa: F401  # registers the section
