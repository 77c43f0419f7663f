from django.urls import URLPattern, URLResolver

app_name = "following"
urlpatterns: list[URLPattern | URLResolver] = []
