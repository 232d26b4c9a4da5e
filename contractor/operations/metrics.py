"""Counts and gauges for Prometheus: of the whole server, never by firm."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

# The library looks when it is imported whether several processes count together.
if _shared := os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
    Path(_shared).mkdir(parents=True, exist_ok=True)

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Histogram,
    generate_latest,
    multiprocess,
)
from prometheus_client.core import REGISTRY, GaugeMetricFamily, Metric

from contractor.operations.looking import Look

REQUESTS = Counter("driftbook_requests", "Requests answered.", ["method", "view", "status"])
SECONDS = Histogram(
    "driftbook_request_seconds",
    "Seconds of the server for a request.",
    ["view"],
    buckets=(0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10),
)
REFUSED = Counter("driftbook_refused", "Requests refused: 401, 403 and 429.", ["status"])


class Gauges:
    """What was looked at just now, in the form that the library writes out."""

    def __init__(self, look: Look) -> None:
        self.look = look

    def collect(self) -> Iterator[Metric]:
        """Give each gauge that is known."""
        for name, (words, value) in self.look.gauges.items():
            if value is not None:
                yield GaugeMetricFamily(f"driftbook_{name}", words, value=value)


def write(look: Look) -> bytes:
    """Write counts and gauges in Prometheus' text form."""
    registry: Any = CollectorRegistry()
    if _shared:
        multiprocess.MultiProcessCollector(registry)
    else:
        registry.register(REGISTRY)
    registry.register(Gauges(look))
    return bytes(generate_latest(registry))
