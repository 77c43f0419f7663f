"""Reminders have no API: what they send is asked for through the apps that cause it."""

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
