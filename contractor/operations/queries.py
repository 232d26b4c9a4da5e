"""Count what a database holds, and read how backups and drills ended.

Tables are named as the database's own catalogue gives them.
"""

from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Count, Min, Q, QuerySet
from django.utils import timezone

from contractor.field.models import Blob
from contractor.notices.models import Notice, NoticeState
from contractor.operations.models import Kind, Run
from contractor.readings.models import Intake
from contractor.reports.models import Bundle, OutlookPaper, Report
from contractor.tenancy import wall
from contractor.tenancy.models import AuditLine, Firm, Job, JobState
from contractor.tenancy.scope import scope

#: Whose names and kinds are offered to choose from.
NEWEST = 5000
FAILED_WITHIN = timedelta(days=7)
#: Counted apart: they grow while nobody does anything, and no backup is worse for it.
NOT_COUNTED = {"operations_run", "django_session"}


def find_last(*, kind: str, only_good: bool = False) -> Run | None:
    """Find the newest run of a kind."""
    runs = Run.objects.filter(kind=kind).order_by("-began_at")
    return (runs.filter(is_good=True) if only_good else runs).first()


def list_runs(*, most: int = 20) -> list[Run]:
    """List the newest backups, drills and returns."""
    return list(Run.objects.order_by("-began_at")[:most])


def list_trail(
    *,
    firm_id: UUID,
    actor: str = "",
    kind: str = "",
    words: str = "",
    since: date | None = None,
    until: date | None = None,
) -> QuerySet[AuditLine]:
    """List what was done in the firm, newest first; days are the firm's, both included."""
    found = AuditLine.objects.filter(firm_id=firm_id)
    if actor:
        found = found.filter(actor=actor)
    if kind:
        found = found.filter(action__startswith=f"{kind}.")
    if words:
        found = found.filter(Q(summary__icontains=words) | Q(action__icontains=words))
    if since:
        found = found.filter(at__gte=_begin_of(since))
    if until:
        found = found.filter(at__lt=_begin_of(until + timedelta(days=1)))
    return found.order_by("-pk")  # keys grow with time, and are indexed by firm


def _begin_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


def list_kinds_of_trail(*, firm_id: UUID) -> tuple[list[str], list[str]]:
    """List the first words of what was done, and who did it, among the newest lines."""
    newest = AuditLine.objects.filter(firm_id=firm_id).order_by("-pk")[:NEWEST]
    rows = list(newest.values_list("action", "actor"))
    return sorted({action.partition(".")[0] for action, _ in rows}), sorted(
        {actor for _, actor in rows}
    )


def count_owed(*, firm_id: UUID, now: datetime) -> dict[str, Any]:
    """Count the active firm's mails that wait and that are uncertain, and jobs that failed."""
    notices = Notice.objects.filter(firm_id=firm_id)
    waiting = notices.filter(state=NoticeState.QUEUED, not_before__lte=now)
    counted = waiting.aggregate(waiting=Count("pk"), oldest=Min("not_before"))
    unsure = notices.filter(state__in=[NoticeState.UNKNOWN, NoticeState.FAILED])
    failed = Job.objects.filter(
        firm_id=firm_id, state=JobState.FAILED, ended_at__gt=now - FAILED_WITHIN
    )
    return {**counted, "uncertain": unsure.count(), "failed": failed.count()}


def list_tables(cursor: Any) -> tuple[list[str], list[str]]:
    """List the tables with a firm, and those without."""
    cursor.execute(wall.TABLES)
    found = cursor.fetchall()
    firms = [row[0] for row in found if row[1]]
    return firms, [row[0] for row in found if not row[1] and row[0] not in NOT_COUNTED]


def count_as_owner(cursor: Any) -> dict[str, Any]:
    """Count every firm's rows, table by table, past the wall and in the cursor's snapshot."""
    walled, open_ = list_tables(cursor)
    cursor.execute("select id, slug from tenancy_firm order by slug")
    firms = {firm_id: {"slug": slug, "rows": {}} for firm_id, slug in cursor.fetchall()}
    for table in walled:
        cursor.execute(f'select firm_id, count(*) from "{table}" group by firm_id')  # noqa: S608
        for firm_id, count in cursor.fetchall():
            firms[firm_id]["rows"][table] = count
    others = {}
    for table in open_:
        cursor.execute(f'select count(*) from "{table}"')  # noqa: S608
        others[table] = cursor.fetchone()[0]
    return {"firms": {str(firm_id): counted for firm_id, counted in firms.items()}, "open": others}


def list_heads_as_owner(cursor: Any) -> dict[str, list[Any]]:
    """List where each firm's chain of sealed records ends."""
    cursor.execute(
        "select distinct on (firm_id) firm_id, chain_number, chain_hash from visits_sealedrecord"
        " order by firm_id, chain_number desc"
    )
    return {str(firm_id): [number, chain] for firm_id, number, chain in cursor.fetchall()}


def count_as_app() -> dict[str, dict[str, int]]:
    """Count every firm's rows as the application sees them: one firm's scope after the other."""
    with connection.cursor() as cursor:
        walled, _ = list_tables(cursor)
    counts = [f"select '{table}', count(*) from \"{table}\"" for table in walled]  # noqa: S608
    union = " union all ".join(counts)
    found = {}
    for firm_id in Firm.objects.values_list("pk", flat=True):
        with scope(firm_id), connection.cursor() as cursor:
            cursor.execute(union)
            found[str(firm_id)] = {table: count for table, count in cursor.fetchall() if count}
    return found


def count_open() -> dict[str, int]:
    """Count the rows of tables without a firm."""
    found = {}
    with transaction.atomic(), connection.cursor() as cursor:
        for table in list_tables(cursor)[1]:
            cursor.execute(f'select count(*) from "{table}"')  # noqa: S608
            found[table] = cursor.fetchone()[0]
    return found


def list_needed_files(*, firm_id: UUID) -> set[str]:
    """List the SHA-256 of every file that a row of the active firm says is kept."""
    needed: set[str] = set()
    for model in (Report, Bundle, OutlookPaper, Intake):
        needed.update(model.objects.filter(firm_id=firm_id).values_list("sha256", flat=True))
    whole = Blob.objects.filter(firm_id=firm_id, completed_at__isnull=False)
    return (needed | set(whole.values_list("sha256", flat=True))) - {""}


def list_reports(*, firm_id: UUID) -> list[Report]:
    """List the active firm's finished reports."""
    found = Report.objects.filter(firm_id=firm_id).exclude(sha256="")  # removed after its time
    return list(found.order_by("made_at"))


__all__ = [
    "Kind",
    "count_as_app",
    "count_as_owner",
    "count_open",
    "count_owed",
    "find_last",
    "list_heads_as_owner",
    "list_kinds_of_trail",
    "list_needed_files",
    "list_reports",
    "list_runs",
    "list_trail",
]
