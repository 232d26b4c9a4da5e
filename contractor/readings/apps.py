"""The readings area: intake of print-outs, readings and verdicts."""

from django.apps import AppConfig


class ReadingsConfig(AppConfig):
    """What was read."""

    name = "contractor.readings"
