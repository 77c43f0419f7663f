from django.apps import AppConfig


class BookingConfig(AppConfig):
    name = "clinic.booking"
    label = "booking"

    def ready(self) -> None:
        # the models must be loaded first
        from clinic.booking.messages import register_kinds

        register_kinds()
