"""Trends and forecasts of a whole fleet's drift at once."""

from contractor.engine.drift.cleaning import CleaningPlan, plan_cleaning
from contractor.engine.drift.constants import Constants
from contractor.engine.drift.forecasts import Fan, Forecast, forecast
from contractor.engine.drift.line import RobustLine, theil_sen
from contractor.engine.drift.marks import Marks, Sudden, events, sudden, suspected_cleanings
from contractor.engine.drift.passage import crossing_chance
from contractor.engine.drift.reliability import Band, Reliability, reliability

__all__ = [
    "Band",
    "CleaningPlan",
    "Constants",
    "Fan",
    "Forecast",
    "Marks",
    "Reliability",
    "RobustLine",
    "Sudden",
    "crossing_chance",
    "events",
    "forecast",
    "plan_cleaning",
    "reliability",
    "sudden",
    "suspected_cleanings",
    "theil_sen",
]
