from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class PeopleConfig(AppConfig):
    name = "clinic.people"
    label = "people"

    def ready(self) -> None:
        # each app's sheets.py registers the spreadsheets it can read; openapi.py tells the API description of our sign-in
        autodiscover_modules("sheets")
        from clinic.people import openapi

        self.openapi = openapi
