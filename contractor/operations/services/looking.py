"""Look at the server: backups, queue, mails, disk, clock, jobs, nights."""

import shutil
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import django
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.utils import timezone

from contractor.celery import NIGHTS, app
from contractor.operations import queries
from contractor.operations.looking import Look, ago
from contractor.operations.models import Kind
from contractor.operations.services.taking import kept_folder
from contractor.tenancy import nights
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope

BACKUP_WITHIN = timedelta(hours=26)
DRILL_WITHIN = timedelta(days=8)
SIGN_WITHIN = timedelta(minutes=5)
MAIL_WITHIN = timedelta(hours=1)
CLOCK_WITHIN_S = 2.0
FULL_AT = 0.8
LONG_QUEUE = 1000
SIGN = "operations:sign"


def give_sign(*, now: datetime) -> None:
    """Say that beat queued and a worker worked, now."""
    cache.set(SIGN, now.isoformat(), None)


def look(*, now: datetime, firm_ids: list[UUID]) -> Look:
    """Look at the server, and at the mails, jobs and nights of these firms."""
    found = Look(at=now)
    _version(found)
    _runs(found)
    _log(found)
    _queue(found)
    _disk(found)
    _clock(found)
    _firms(found, firm_ids)
    return found


def _version(found: Look) -> None:
    with connection.cursor() as cursor:
        cursor.execute("show server_version")
        server = cursor.fetchone()[0].split()[0]
        cursor.execute("select app || '.' || name from django_migrations order by id desc limit 1")
        last = cursor.fetchone()
    version = settings.VERSION or "not named"
    found.add(
        "Version",
        f"{version}; tables as of {last[0] if last else 'nothing'}; Django"
        f" {django.get_version()}, PostgreSQL {server}",
    )


def _runs(found: Look) -> None:
    for kind, name, within, advice, gauge in (
        (
            Kind.BACKUP,
            "Last backup",
            BACKUP_WITHIN,
            "Run manage.py backup, and see that it runs each night.",
            "backup",
        ),
        (
            Kind.DRILL,
            "Last proved return",
            DRILL_WITHIN,
            "Run manage.py backup --drill latest: a backup that nobody has returned from is a"
            " hope.",
            "drill",
        ),
    ):
        good = queries.find_last(kind=kind, only_good=True)
        last = queries.find_last(kind=kind)
        age = found.at - good.began_at if good else None
        words = f"{ago(age)}: {good.words}" if good and age is not None else "none yet"
        failed = last is not None and not last.is_good
        if last is not None and failed:
            words += f". Tried {ago(found.at - last.began_at)}, and failed: {last.words}"
        found.add(name, words, is_bad=failed or age is None or age > within, advice=advice)
        found.gauges[f"{gauge}_age_seconds"] = (
            f"Seconds since the last good {gauge}.",
            age.total_seconds() if age else None,
        )


def _log(found: Look) -> None:
    """Say how the archived log stands, where PostgreSQL keeps one (docker/log-archive.yml)."""
    with connection.cursor() as cursor:
        cursor.execute("show archive_mode")
        if cursor.fetchone()[0] == "off":
            return
        cursor.execute(
            "select last_archived_time, last_failed_time, last_failed_wal from pg_stat_archiver"
        )
        kept, failed, name = cursor.fetchone()
    is_stuck = failed is not None and (kept is None or failed > kept)
    words = f"kept {ago(found.at - kept)}" if kept else "nothing kept yet"
    if is_stuck:
        words += f"; {name} could not be kept, tried {ago(found.at - failed)}"
    found.gauges["log_archived_age_seconds"] = (
        "Seconds since a piece of the write-ahead log was archived.",
        (found.at - kept).total_seconds() if kept else None,
    )
    found.add(
        "Write-ahead log",
        words,
        is_bad=is_stuck,
        advice="See PostgreSQL's log. Until it is mended the log fills the database's own disk.",
    )


def _queue(found: Look) -> None:
    try:
        with app.connection_for_read() as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
            client = broker.default_channel.client  # type: ignore[attr-defined]
            length: int | None = client.llen(app.conf.task_default_queue)
            of_night: int | None = client.llen(NIGHTS)
        sign = cache.get(SIGN)
    except Exception:
        length, of_night, sign = None, None, None
    found.gauges["queue_length"] = ("Tasks that wait, those of the night aside.", length)
    found.gauges["night_queue_length"] = ("Tasks of the night that wait.", of_night)
    if length is None:
        found.add("Queue", "does not answer", is_bad=True, advice="Start Valkey.")
        return
    words = f"{length} task{'' if length == 1 else 's'} waiting"
    if of_night:
        words += f"; {of_night} of the night"
    found.add(
        "Queue", words, is_bad=length > LONG_QUEUE, advice="Add workers, or see what holds them up."
    )
    age = found.at - datetime.fromisoformat(sign) if sign else None
    found.gauges["sign_age_seconds"] = (
        "Seconds since beat and a worker gave a sign.",
        age.total_seconds() if age is not None else None,
    )
    found.add(
        "Beat and worker",
        f"gave a sign {ago(age)}" if age is not None else "have given no sign yet",
        is_bad=age is None or age > SIGN_WITHIN,
        advice="Start beat and worker; nothing is renewed or mailed without them.",
    )


def _disk(found: Look) -> None:
    folder = kept_folder()
    folder.mkdir(parents=True, exist_ok=True)
    usage = shutil.disk_usage(folder)
    share = usage.used / usage.total
    found.gauges["disk_used_ratio"] = ("Share of DATA_DIR's disk that is used.", share)
    found.add(
        "Disk",
        f"{share:.0%} used, {usage.free / 1e9:.0f} GB free where uploads and reports lie",
        is_bad=share > FULL_AT,
        advice="Make room, or move DATA_DIR to a larger disk.",
    )


def _clock(found: Look) -> None:
    before = timezone.now()  # noqa: TID251 - the clocks themselves are compared
    with connection.cursor() as cursor:
        cursor.execute("select clock_timestamp()")
        theirs = cursor.fetchone()[0]
    after = timezone.now()  # noqa: TID251 - as above
    # Where in between the database looked at its clock is not known.
    apart = max((theirs - after).total_seconds(), (before - theirs).total_seconds(), 0.0)
    found.gauges["clock_difference_seconds"] = ("Seconds between database and web.", apart)
    found.add(
        "Clocks",
        f"database and web agree within {max(apart, 0.1):.1f} s",
        is_bad=apart > CLOCK_WITHIN_S,
        advice="Have both machines set their clocks by the same time server.",
    )


def _firms(found: Look, firm_ids: list[UUID]) -> None:
    oldest: datetime | None = None
    sums: dict[str, Any] = {"waiting": 0, "uncertain": 0, "failed": 0}
    missed: list[str] = []
    ran = 0
    for firm_id in firm_ids:
        with scope(firm_id):
            counted = queries.count_owed(firm_id=firm_id, now=found.at)
            night = nights.find_missed(firm_id=firm_id, now=found.at)
            ran += bool(nights.list_nights(firm_id=firm_id, now=found.at, most=3))
        for name in sums:
            sums[name] += counted[name]
        if counted["oldest"]:
            oldest = min(filter(None, [oldest, counted["oldest"]]))
        if night is not None:
            missed.append(f"{night.on:%-d %b}: {'; '.join(night.missing) or 'nothing ran'}")
    age = found.at - oldest if oldest else timedelta(0)
    found.gauges["mail_age_seconds"] = ("Age of the oldest mail that waits.", age.total_seconds())
    found.gauges["mails_uncertain"] = ("Mails that may not have arrived.", sums["uncertain"])
    found.gauges["jobs_failed"] = ("Jobs that failed within a week.", sums["failed"])
    found.gauges["nights_missed"] = ("Firms whose last night did not end.", len(missed))
    words = f"{sums['waiting']} waiting" + (f", the oldest since {ago(age)}" if oldest else "")
    if sums["uncertain"]:
        words += f"; {sums['uncertain']} may not have arrived"
    found.add(
        "Mails",
        words,
        is_bad=age > MAIL_WITHIN or sums["uncertain"] > 0,
        advice="Look at Notices, and at EMAIL_URL if all of them wait.",
    )
    found.add(
        "Failed jobs",
        f"{sums['failed']} within a week" if sums["failed"] else "none within a week",
        is_bad=sums["failed"] > 0,
        advice="Look for the job in the worker's log; start it again from its page.",
    )
    found.add(
        "Last night",
        "; ".join(sorted(set(missed))[:3])
        or ("ran to its end" if ran else "has not come yet: each begins at 02:10 UTC"),
        is_bad=bool(missed),
        advice="See that beat and the nights' worker run, and read its log of that night.",
    )


def look_at_all(*, now: datetime) -> Look:
    """Look at the server and at every firm, for whoever runs it."""
    return look(now=now, firm_ids=tenancy.list_firm_ids())
