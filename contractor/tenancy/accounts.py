"""Sign-in: nobody signs up; people are invited to a seat."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter


class ClosedDoor(DefaultAccountAdapter):
    """Let invited people sign in, and nobody sign up."""

    def is_open_for_signup(self, request: Any) -> bool:
        """Answer no: a seat comes by invitation."""
        return False
