"""The people area: members, their licences, the firm's own page."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """Who works here, with which licences."""

    name = "contractor.people"
