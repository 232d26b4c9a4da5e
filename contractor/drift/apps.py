"""The drift area: forecasts of every detector's drift."""

from django.apps import AppConfig


class DriftConfig(AppConfig):
    """What is to be expected."""

    name = "contractor.drift"
