"""The visits area: visits, entries, review, sign-off."""

from django.apps import AppConfig


class VisitsConfig(AppConfig):
    """What was done on the spot."""

    name = "contractor.visits"
