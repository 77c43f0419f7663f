from django.urls import URLPattern, URLResolver

app_name = "visits"
urlpatterns: list[URLPattern | URLResolver] = []
