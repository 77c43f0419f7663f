from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "clinic.people"
    label = "people"
