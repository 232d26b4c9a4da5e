"""Addresses of the drift area."""

from django.urls import URLPattern

app_name = "drift"
urlpatterns: list[URLPattern] = []
