"""The rates area: how often unwanted alarms come, and what that does to test dates."""

from django.apps import AppConfig


class RatesConfig(AppConfig):
    """Alarms against the year before."""

    name = "contractor.rates"
