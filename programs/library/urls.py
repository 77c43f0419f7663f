from django.urls import URLPattern, URLResolver

app_name = "library"
urlpatterns: list[URLPattern | URLResolver] = []
