"""The planning area: visits bundled and laid out over weeks, calendars, routes, who was told."""

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    """Who goes where, and when."""

    name = "contractor.planning"
