from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class PeopleConfig(AppConfig):
    name = "clinic.people"
    label = "people"

    def ready(self) -> None:
        # each app's sheets.py registers the spreadsheets it can read; the import engine names no app
        autodiscover_modules("sheets")
