"""Turn the record's months into a drawing."""

from collections.abc import Iterable

from contractor.engine.alarm_log import LogMonth
from contractor.web import charts


def record(log: Iterable[LogMonth]) -> charts.RecordMonths:
    """Draw which months of the record were kept."""
    return charts.RecordMonths(
        months=tuple(
            charts.RecordMonth(
                first=month.first,
                state=month.state,
                alarms=month.alarms,
                is_late=month.is_late,
            )
            for month in log
        )
    )
