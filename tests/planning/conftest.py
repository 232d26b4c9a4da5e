"""Detectors that soil at known rates, as drift's own tests make them; all invented."""

from tests.drift.conftest import fleet_of, read

__all__ = ["fleet_of", "read"]
