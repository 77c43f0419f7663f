from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "clinic.reminders"
    label = "reminders"
