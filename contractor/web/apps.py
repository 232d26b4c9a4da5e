"""The web area: doors, the look, drawings."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """No rows of its own."""

    name = "contractor.web"
