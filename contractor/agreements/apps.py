"""The agreements area: agreements with customers."""

from django.apps import AppConfig


class AgreementsConfig(AppConfig):
    """What was promised."""

    name = "contractor.agreements"
