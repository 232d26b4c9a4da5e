"""Addresses of the field area."""

from django.urls.resolvers import URLPattern

app_name = "field"
urlpatterns: list[URLPattern] = []
