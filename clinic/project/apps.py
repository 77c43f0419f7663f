from django.apps import AppConfig


class ProjectConfig(AppConfig):
    name = "clinic.project"
    label = "project"

    def ready(self) -> None:
        # the Celery application must exist before any @shared_task is rung
        from clinic.project import celery, checks

        self.celery = celery.app
        self.checks = checks
