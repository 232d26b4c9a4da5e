"""Turn an outage into its drawing."""

from collections.abc import Sequence

from contractor.engine.deadlines import Out
from contractor.web import charts


def outage(*, hours: float, out: Sequence[Out]) -> charts.OutHours:
    """Draw how long protection is out against every limit that holds there."""
    return charts.OutHours(
        hours=hours,
        limits=tuple(
            charts.OutLimitMark(hours=one.limit.hours, name=one.limit.clause.split(",")[0])
            for one in out
        ),
    )
