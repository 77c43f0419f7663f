from django.apps import AppConfig


class BookingConfig(AppConfig):
    name = "clinic.booking"
    label = "booking"

    def ready(self) -> None:
        # the models must be loaded first; the client's page gets its part by the import
        from clinic.booking import client_page, digest, messages  # noqa: F401

        messages.register_kinds()
