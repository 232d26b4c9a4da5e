"""The alarms area: the unwanted-alarm record."""

from django.apps import AppConfig


class AlarmsConfig(AppConfig):
    """Alarms without fire."""

    name = "contractor.alarms"
