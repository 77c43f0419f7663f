from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "clinic.people"
    label = "people"

    def ready(self) -> None:
        # the description of the API learns about our sign-in when this is imported
        from clinic.people import openapi

        self.openapi = openapi
