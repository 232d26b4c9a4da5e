"""Addresses of the owners area."""

from django.urls import URLPattern

app_name = "owners"
urlpatterns: list[URLPattern] = []
