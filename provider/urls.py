from django.urls import URLPattern

app_name = "provider"

urlpatterns: list[URLPattern] = []
