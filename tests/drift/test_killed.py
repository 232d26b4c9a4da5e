"""A worker killed in the middle of a night, and the next one: the same rows as undisturbed."""

import os
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from psycopg.conninfo import make_conninfo

from contractor import jobs
from contractor.drift import services
from contractor.drift.models import BuildingOutlook, FleetConstants, Forecast, Question, Snapshot
from contractor.readings.models import Reading
from contractor.readings.services import refresh_standing
from contractor.register.models import Device
from contractor.tenancy.scope import scope
from tests import factories

ROOT = Path(__file__).resolve().parents[2]
BUILDINGS = 80
DAYS = [date(year, 3, 10) for year in range(2021, 2027)]

pytestmark = pytest.mark.django_db(transaction=True, databases=["default", "owner"])

# A part holds one building, so that there is a middle to be killed in.
WORK = """
import django
django.setup()
from contractor.drift.services import forecasting
forecasting.PART = 1
from contractor.celery import app
app.worker_main(["worker", "--pool", "solo", "--loglevel", "WARNING"])
"""


@pytest.fixture
def followed(firm):
    """A firm with many small buildings, two detectors each."""
    with scope(firm.pk):
        devices = []
        for number in range(BUILDINGS):
            system = factories.SystemFactory(
                building=factories.BuildingFactory(firm=firm, name=f"House {number}")
            )
            devices += [factories.DeviceFactory(system=system) for _ in range(2)]
        Reading.objects.bulk_create(
            factories.ReadingFactory.build(
                firm=firm,
                device=device,
                taken_on=day,
                drift=round(0.03 + (0.03 + 0.0012 * at) * year, 2),
                limit=1.25,
            )
            for at, device in enumerate(devices)
            for year, day in enumerate(DAYS)
        )
        refresh_standing(device_ids=[device.pk for device in devices])
    return firm


@pytest.fixture
def start(settings):
    """Start a real worker on the test's database; all are gone afterwards."""
    database = settings.DATABASES["default"]
    address = make_conninfo(
        dbname=database["NAME"],
        user=database["USER"],
        password=database["PASSWORD"] or None,
        host=database["HOST"] or None,
        port=database["PORT"] or None,
    )
    environment = {
        **os.environ,
        "DATABASE_URL": address,
        "DATA_DIR": str(settings.DATA_DIR),
        "DJANGO_SETTINGS_MODULE": "contractor.settings",
    }
    environment.pop("DATABASE_OWNER_URL", None)
    workers = []

    def begin():
        workers.append(
            subprocess.Popen(
                [sys.executable, "-W", "ignore", "-c", WORK], cwd=ROOT, env=environment
            )
        )
        return workers[-1]

    yield begin
    for worker in workers:
        if worker.poll() is None:
            worker.terminate()
            worker.wait(timeout=30)


def wait_until(so, *, seconds=120, every=0.01):
    end = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < end, "The worker has not come so far."
        time.sleep(every)


def rows(firm):
    """Everything a night writes, without keys and days of writing."""
    with scope(firm.pk):
        return {
            model.__name__: sorted(
                str(
                    {
                        name: value
                        for name, value in row.items()
                        if name not in ("id", "as_of", "asked_on")
                    }
                )
                for row in model.objects.values()
            )
            for model in (Forecast, BuildingOutlook, Question)
        }


def count(firm):
    with scope(firm.pk):
        return Forecast.objects.count()


def is_over(firm):
    with scope(firm.pk):
        return FleetConstants.objects.filter(is_swept=True).exists()


def test_a_killed_night_ends_the_same(followed, start):
    worker = start()
    with scope(followed.pk):
        jobs.enqueue("drift.sweep_firm", firm_id=followed.pk)
    wait_until(lambda: count(followed) >= 10)
    worker.send_signal(signal.SIGKILL)
    worker.wait(timeout=30)
    left = count(followed)
    assert 10 <= left < 2 * BUILDINGS, "It was not killed in the middle."
    assert not is_over(followed)

    start()
    with scope(followed.pk):
        jobs.enqueue("drift.sweep_firm", firm_id=followed.pk)
    wait_until(lambda: is_over(followed))
    after_the_kill = rows(followed)

    # The same fleet gone through once more from nothing, in one go; the worker has its own clock.
    now = timezone.now()
    today = now.astimezone(ZoneInfo("America/New_York")).date()
    with scope(followed.pk):
        for model in (Forecast, BuildingOutlook, Question, FleetConstants):
            model.objects.all().delete()
        services.sweep_whole(firm_id=followed.pk, today=today, now=now)
        assert Device.objects.count() == 2 * BUILDINGS
    undisturbed = rows(followed)

    assert len(after_the_kill["Forecast"]) == 2 * BUILDINGS
    assert after_the_kill == undisturbed
    with scope(followed.pk):
        assert Snapshot.objects.count() == BUILDINGS  # each kept once, though begun twice
