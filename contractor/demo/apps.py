"""The demo area: the invented scenario."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """Invented firms, buildings and readings."""

    name = "contractor.demo"
