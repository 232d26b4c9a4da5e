"""Addresses of the alarms area."""

from django.urls import URLPattern

app_name = "alarms"
urlpatterns: list[URLPattern] = []
