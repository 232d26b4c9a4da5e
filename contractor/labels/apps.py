"""The labels area: codes on devices, the sheets they are printed on, and what was bound to what."""

from django.apps import AppConfig


class LabelsConfig(AppConfig):
    """Which code hangs on which device."""

    name = "contractor.labels"
