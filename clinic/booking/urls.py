from django.urls import URLPattern, URLResolver

app_name = "booking"
urlpatterns: list[URLPattern | URLResolver] = []
