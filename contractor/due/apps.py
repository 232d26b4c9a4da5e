"""The due area: the next day of each task of each device, and why."""

from django.apps import AppConfig


class DueConfig(AppConfig):
    """When it must be done again."""

    name = "contractor.due"
