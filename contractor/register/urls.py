"""Addresses of the register area."""

from django.urls import URLPattern

app_name = "register"
urlpatterns: list[URLPattern] = []
