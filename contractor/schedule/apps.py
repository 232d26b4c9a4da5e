"""The schedule area: what falls due, and the start page."""

from django.apps import AppConfig


class ScheduleConfig(AppConfig):
    """What needs doing."""

    name = "contractor.schedule"
