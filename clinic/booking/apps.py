from django.apps import AppConfig


class BookingConfig(AppConfig):
    name = "clinic.booking"
    label = "booking"
