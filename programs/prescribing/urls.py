from django.urls import URLPattern, URLResolver

app_name = "prescribing"
urlpatterns: list[URLPattern | URLResolver] = []
