"""Whose day it is: what lies in a time zone tells it by its own clock."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo


class Zoned:
    """What has a `time_zone`: a building, a firm."""

    time_zone: Any

    def day_at(self, at: datetime) -> date:
        """Tell which day it is there at a moment."""
        return at.astimezone(ZoneInfo(self.time_zone)).date()
