"""Gather all that is known of a building, and keep it as one file."""

import tempfile
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import transaction

from contractor.alarms import queries as alarms
from contractor.field import queries as field
from contractor.findings import queries as findings
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.register.models import Building
from contractor.reports import bundles, queries
from contractor.reports.models import Bundle
from contractor.tenancy import files
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Job, Member
from contractor.tenancy.services import queue_job, write_audit


@transaction.atomic
def queue_bundle(*, building: Building, member: Member | None, now: datetime) -> Job:
    """Queue the bundle of a building; within the minute, once."""
    return queue_job(
        firm_id=building.firm_id,
        key=f"bundle:{building.pk}:{now:%Y%m%d%H%M}",
        task="reports.make_bundle",
        title=f"Everything about {building.name}",
        now=now,
        member=member,
        building_id=building.pk,
    )


@transaction.atomic
def make_bundle(*, building: Building, now: datetime) -> Bundle:
    """Write a building's bundle and keep it."""
    with tempfile.TemporaryFile() as target:
        records, reports = bundles.write_bundle(
            target,
            building=_describe(building),
            firm=tenancy.get_profile(firm_id=building.firm_id).name,
            made_at=now,
            links=queries.list_links(firm_id=building.firm_id),
            records=_records(building),
            tables=_tables(building),
            photos=_photos(building),
        )
        size = target.tell()
        target.seek(0)
        sha256 = files.keep(firm_id=building.firm_id, data=target.read())
    bundle = Bundle.objects.create(
        firm_id=building.firm_id,
        building=building,
        sha256=sha256,
        size=size,
        records=records,
        reports=reports,
        made_at=now,
    )
    write_audit(
        member=None,
        action="bundle.made",
        subject=bundle,
        summary=f"{building.name}: {records} records, {reports} reports, file {sha256[:16]}",
        now=now,
    )
    return bundle


def _describe(building: Building) -> dict[str, Any]:
    return {
        "name": building.name,
        "address": building.address,
        "customer": building.customer.name,
        "edition": building.edition,
        "jurisdiction": building.jurisdiction,
        "authority": building.authority,
        "authority_address": building.authority_address,
        "monitoring": building.monitoring,
        "time_zone": building.time_zone,
        "systems": [
            {"name": system.name, "control_unit": system.control_unit}
            for system in register.list_systems(building=building)
        ],
    }


def _records(building: Building) -> Iterator[bundles.Held]:
    for record in queries.list_sealed(building=building):
        yield bundles.Held(
            text=record.body,
            chain_number=record.chain_number,
            revision=record.revision,
            record_hash=record.record_hash,
            building=building.name,
            planned_on=record.visit.planned_on.isoformat(),
            reports=tuple(
                (
                    str(report.get_kind_display()),
                    report.sha256,
                    files.fetch(firm_id=report.firm_id, sha256=report.sha256),
                )
                for report in queries.list_kinds(record=record)
                if report.sha256  # else its time was over and its file is removed
            ),
        )


def _photos(building: Building) -> Iterator[bundles.Photo]:
    """Give each photo of the visits to a building that is here in whole, once."""
    given = set()
    for photo in field.list_photos_of(building=building):
        if photo.visit is None or photo.sha256 in given:
            continue
        given.add(photo.sha256)
        yield bundles.Photo(
            planned_on=photo.visit.planned_on.isoformat(),
            taken_at=photo.received.made_at.isoformat(),
            by=photo.received.author.name if photo.received.author else "",
            sha256=photo.sha256,
            data=files.fetch(firm_id=photo.firm_id, sha256=photo.sha256),
        )


def _tables(building: Building) -> Iterator[bundles.Table]:
    devices = list(register.list_devices(building=building, removed=True))
    yield (
        "devices",
        ("address", "place", "area", "kind", "product", "serial", "installed_on", "removed_on"),
        (
            (
                one.address,
                one.label,
                one.area.name if one.area else "",
                str(one.get_kind_display()),
                str(one.product or ""),
                one.serial,
                one.installed_on,
                one.removed_on,
            )
            for one in devices
        ),
    )
    yield (
        "readings",
        (
            *("address", "taken_on", "stage", "is_test", "method", "measured_pct_ft"),
            *("setting_pct_ft", "drift_pct_ft", "limit_pct_ft", "used", "marked_low_pct_ft"),
            *("marked_high_pct_ft", "verdict", "reason", "source"),
        ),
        (
            (
                *(device.address, one.taken_on, one.stage, one.is_test),
                *(str(one.get_method_display()), one.measured, one.setting, one.drift, one.limit),
                *(one.used, one.marked_low, one.marked_high, one.verdict, one.reason, one.source),
            )
            for device in devices
            for one in readings.list_readings(device=device)
        ),
    )
    yield (
        "findings",
        ("found_on", "severity", "device", "title", "text", "corrected_on", "correction"),
        (
            (
                *(one.found_on, one.word, one.device.address if one.device else "", one.title),
                *(one.text, one.corrected_on, one.correction),
            )
            for one in findings.list_in(building=building)
        ),
    )
    yield (
        "unwanted-alarms",
        ("at", "area", "device", "cause", "by_detector", "what_set_it_off", "done", "judged_by"),
        (
            (
                *(one.happened_at, one.area.name if one.area else ""),
                *(one.device.address if one.device else "", str(one.get_cause_display())),
                *(one.by_detector, one.circumstances, one.action, one.judged_by),
            )
            for one in alarms.list_alarms(building=building)
        ),
    )
