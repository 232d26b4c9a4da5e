"""The findings area: deficiencies and impairments."""

from django.apps import AppConfig


class FindingsConfig(AppConfig):
    """What is wrong."""

    name = "contractor.findings"
