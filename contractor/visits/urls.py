"""Addresses of the visits area."""

from django.urls import URLPattern

app_name = "visits"
urlpatterns: list[URLPattern] = []
