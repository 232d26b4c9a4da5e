"""The register area: customers, buildings, areas, systems, devices, products."""

from django.apps import AppConfig


class RegisterConfig(AppConfig):
    """What is where."""

    name = "contractor.register"
