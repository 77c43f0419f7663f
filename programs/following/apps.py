from django.apps import AppConfig


class FollowingConfig(AppConfig):
    name = "programs.following"
    label = "following"
