"""Addresses of the agreements area."""

from django.urls import URLPattern

app_name = "agreements"
urlpatterns: list[URLPattern] = []
