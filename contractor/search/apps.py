"""The search area: find anything by words, and answer what the office is asked."""

from django.apps import AppConfig


class SearchConfig(AppConfig):
    """Find, and answer."""

    name = "contractor.search"
