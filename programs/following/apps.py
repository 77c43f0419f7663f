from importlib import import_module

from django.apps import AppConfig


class FollowingConfig(AppConfig):
    name = "programs.following"
    label = "following"

    def ready(self) -> None:
        # the models must be loaded first
        import_module("programs.following.messages")
        import_module("programs.following.digest")
        import_module("programs.following.gauges")
        import_module("programs.following.receivers")
        import_module("programs.following.client_page")
        import_module("clinic.trust.actions.export_person").register_extra(
            import_module("programs.following.fhir.bundle").exported
        )
