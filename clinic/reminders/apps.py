from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "clinic.reminders"
    label = "reminders"

    def ready(self) -> None:
        from clinic.reminders import messages

        self.messages = messages
