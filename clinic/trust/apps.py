from django.apps import AppConfig


class TrustConfig(AppConfig):
    name = "clinic.trust"
    label = "trust"

    def ready(self) -> None:
        # these register themselves: the message to the lead, the lead's part of a client's page, figures, what waits
        from clinic.trust import client_page, digest, gauges, messages  # noqa: F401
