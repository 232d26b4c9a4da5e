"""Addresses of the findings area."""

from django.urls import URLPattern

app_name = "findings"
urlpatterns: list[URLPattern] = []
