"""Addresses of the schedule area."""

from django.urls import URLPattern

app_name = "schedule"
urlpatterns: list[URLPattern] = []
