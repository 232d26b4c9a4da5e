"""The field area: the technician's tablet, with and without signal."""

from django.apps import AppConfig


class FieldConfig(AppConfig):
    """Packs, tablets, and what they send."""

    name = "contractor.field"
