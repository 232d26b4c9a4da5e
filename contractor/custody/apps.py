"""The custody area: how long records are kept, and a firm's whole data out and in."""

from django.apps import AppConfig


class CustodyConfig(AppConfig):
    """What is kept, and what leaves."""

    name = "contractor.custody"
