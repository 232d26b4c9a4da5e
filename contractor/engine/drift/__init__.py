"""Trends and forecasts of a whole fleet's drift at once."""

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.forecasts import Fan, Forecast, forecast
from contractor.engine.drift.passage import crossing_chance

__all__ = ["Constants", "Fan", "Forecast", "crossing_chance", "forecast"]
