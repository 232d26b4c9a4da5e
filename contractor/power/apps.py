"""The power area: standby batteries, what they must hold, and their tests."""

from django.apps import AppConfig


class PowerConfig(AppConfig):
    """What keeps a system alive when the mains fail."""

    name = "contractor.power"
