from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "clinic.reminders"
    label = "reminders"

    def ready(self) -> None:
        from clinic.reminders import gauges, messages

        self.gauges, self.messages = gauges, messages
