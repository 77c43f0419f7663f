from django.urls import URLPattern, URLResolver

app_name = "reminders"
urlpatterns: list[URLPattern | URLResolver] = []
