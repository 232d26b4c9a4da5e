"""Addresses of the readings area."""

from django.urls import URLPattern

app_name = "readings"
urlpatterns: list[URLPattern] = []
