from django.apps import AppConfig


class LibraryConfig(AppConfig):
    name = "programs.library"
    label = "library"
