from django.apps import AppConfig


class VisitsConfig(AppConfig):
    name = "clinic.visits"
    label = "visits"

    def ready(self) -> None:
        # these register themselves: message kinds, what follows a change in the book, the part of a client's page, recalls
        from clinic.visits import client_page, digest, messages, recalls, receivers  # noqa: F401
