"""The reports area: sealed reports as PDF."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    """What is handed over."""

    name = "contractor.reports"
