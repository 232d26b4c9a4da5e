"""Trends and forecasts of a whole fleet's drift at once."""

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.forecasts import Fan, Forecast, forecast
from contractor.engine.drift.line import RobustLine, theil_sen
from contractor.engine.drift.marks import Marks, events, suspected_cleanings
from contractor.engine.drift.passage import crossing_chance

__all__ = [
    "Constants",
    "Fan",
    "Forecast",
    "Marks",
    "RobustLine",
    "crossing_chance",
    "events",
    "forecast",
    "suspected_cleanings",
    "theil_sen",
]
