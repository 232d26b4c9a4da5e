"""Addresses of the power area."""

from django.urls.resolvers import URLPattern

app_name = "power"
urlpatterns: list[URLPattern] = []
