"""Read reports and the sealed records that they print."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Max, QuerySet

from contractor.register.models import Building
from contractor.reports import contents, pdf
from contractor.reports.models import Bundle, Handing, Kind, OutlookPaper, Report, SigningKey
from contractor.tenancy import files
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import AuditLine, Job, Role
from contractor.visits import queries as visits
from contractor.visits.models import SealedRecord
from contractor.visits.services import list_differences

VISIT: str = Kind.VISIT
Missing = (
    Report.DoesNotExist,
    Bundle.DoesNotExist,
    OutlookPaper.DoesNotExist,
    *visits.Missing,
)


def get_report(
    *, firm_id: UUID, report_id: UUID, building_ids: Sequence[UUID] | None = None
) -> Report:
    """Get one report; with buildings, only if it is about one of them."""
    found = Report.objects.select_related("record", "record__visit", "record__visit__building")
    if building_ids is not None:
        found = found.filter(record__visit__building_id__in=building_ids)
    return found.defer("record__body").get(firm_id=firm_id, pk=report_id)


def find_report(*, record: SealedRecord, kind: str = VISIT) -> Report | None:
    """Find a record's report of a kind."""
    return Report.objects.filter(firm_id=record.firm_id, record=record, kind=kind).first()


def find_job(*, record: SealedRecord, kind: str = VISIT) -> Job | None:
    """Find the job that renders a record's report of a kind."""
    key = job_key(record_id=record.pk, kind=kind)
    return tenancy.find_job(firm_id=record.firm_id, key=key)


def job_key(*, record_id: UUID, kind: str = VISIT) -> str:
    """Name the job of a record's report; sign-off queues the first kind under the same key."""
    return f"report:{record_id}" if kind == VISIT else f"report:{record_id}:{kind}"


def list_records(
    *, firm_id: UUID, building_ids: list[UUID] | None = None
) -> QuerySet[SealedRecord]:
    """List sealed records without their text, newest first, each with its visit's last revision."""
    found = visits.list_latest_records(firm_id=firm_id, building_ids=building_ids)
    return found.defer("body").annotate(last_revision=Max("visit__sealedrecord__revision"))


def list_reports(
    *, firm_id: UUID, record_ids: Sequence[UUID], kind: str = VISIT
) -> dict[UUID, Report]:
    """List the reports of some records by record."""
    found = Report.objects.filter(firm_id=firm_id, record_id__in=record_ids, kind=kind)
    return {report.record_id: report for report in found.order_by("pk")}


def list_all_kinds(*, firm_id: UUID, record_ids: Sequence[UUID]) -> dict[UUID, list[Report]]:
    """List every report of some records, by record, the full one first."""
    order = list(Kind.values)
    found: dict[UUID, list[Report]] = {}
    for report in Report.objects.filter(firm_id=firm_id, record_id__in=record_ids):
        found.setdefault(report.record_id, []).append(report)
    return {
        key: sorted(made, key=lambda report: order.index(report.kind))
        for key, made in found.items()
    }


def list_revisions(*, record: SealedRecord) -> list[SealedRecord]:
    """List every revision of a record's visit, the latest first, without their text."""
    return list(visits.list_records(visit=record.visit).defer("body"))


def read_body(*, record: SealedRecord) -> dict[str, Any]:
    """Read what was sealed."""
    body: dict[str, Any] = json.loads(record.body)
    return body


def list_kinds(*, record: SealedRecord) -> list[Report]:
    """List every report that was made of a record, the full one first."""
    order = list(Kind.values)
    found = Report.objects.filter(firm_id=record.firm_id, record=record).order_by("pk")
    return sorted(found, key=lambda report: order.index(report.kind))


@dataclass(frozen=True)
class Offered:
    """One kind of report of a record: made, being made, or to be asked for."""

    kind: str
    words: str
    report: Report | None
    job: Job | None


def list_papers(*, record: SealedRecord, kinds: Sequence[str]) -> list[Offered]:
    """List the kinds of report of a record with what has become of each."""
    made = {report.kind: report for report in list_kinds(record=record)}
    return [
        Offered(
            kind,
            str(Kind(kind).label),
            made.get(kind),
            None if kind in made else find_job(record=record, kind=kind),
        )
        for kind in kinds
    ]


def get_record(*, firm_id: UUID, record_id: UUID) -> SealedRecord:
    """Get one sealed record with its text."""
    return visits.get_record(firm_id=firm_id, record_id=record_id)


def get_last_revision(*, record: SealedRecord) -> SealedRecord:
    """Get the revision that stands, without its text."""
    found = visits.list_records(visit=record.visit).defer("body").first()
    assert found is not None  # the record itself is one
    return found


def find_key(*, firm_id: UUID) -> SigningKey | None:
    """Find the key that signs: the newest that is not retired."""
    found = SigningKey.objects.filter(firm_id=firm_id, retired_at=None)
    return found.order_by("-made_at", "-pk").first()


def list_keys(*, firm_id: UUID) -> list[SigningKey]:
    """List a firm's certificates, newest first; the keys themselves are not read."""
    found = SigningKey.objects.filter(firm_id=firm_id).select_related("made_by")
    return list(found.defer("sealed").order_by("-made_at", "-pk"))


def find_proof(*, token: str) -> tuple[UUID, UUID | None, UUID | None, UUID | None] | None:
    """Find what a code or a file's SHA-256 stands for: firm, record, report, outlook.

    A read across firms: the database shows the row of the very token that is named, nothing else.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("select set_config('app.token', %s, true)", [token])
        cursor.execute(
            "select firm_id, record_id, report_id, outlook_id from reports_proof where token = %s"
            " order by id limit 1",
            [token],
        )
        found = cursor.fetchone()
        cursor.execute("select set_config('app.token', '', true)")
    return found


def list_handings(*, record: SealedRecord) -> list[Handing]:
    """List who was given which revision of a record's visit, newest first."""
    found = Handing.objects.filter(firm_id=record.firm_id, record__visit=record.visit)
    return list(found.select_related("record").defer("record__body").order_by("-at", "-pk"))


def opened_lately(*, record_id: UUID, name: str, kind: str, now: datetime, hours: int) -> bool:
    """Tell whether somebody opened the same paper within the last hours."""
    since = now - timedelta(hours=hours)
    found = Handing.objects.filter(record_id=record_id, name=name, kind=kind, at__gt=since)
    return found.exists()


def list_holders(*, record: SealedRecord) -> list[tuple[str, str]]:
    """List who has an earlier revision and can be written to: name and address, each once."""
    found = Handing.objects.filter(
        firm_id=record.firm_id,
        record__visit=record.visit,
        record__revision__lt=record.revision,
    ).exclude(address="")
    people = found.order_by("at", "pk").values_list("address", "name")
    return [(name, address) for address, name in dict(people).items()]


def was_told(*, record: SealedRecord, address: str) -> bool:
    """Tell whether somebody was told of this revision."""
    return Handing.objects.filter(
        firm_id=record.firm_id, record=record, address=address, how=Handing.How.NOTICE
    ).exists()


def list_sealed(*, building: Building) -> Iterator[SealedRecord]:
    """Give every sealed record of a building with its text, in the order of the chain."""
    found = SealedRecord.objects.filter(firm_id=building.firm_id, visit__building=building)
    yield from found.select_related("visit").order_by("chain_number").iterator(chunk_size=20)


def list_links(*, firm_id: UUID) -> list[dict[str, Any]]:
    """List the links of a firm's chain: hashes and numbers only, of every building."""
    found = SealedRecord.objects.filter(firm_id=firm_id).order_by("chain_number")
    return list(
        found.values("chain_number", "revision", "record_hash", "previous_hash", "chain_hash")
    )


def list_bundles(*, building: Building) -> list[Bundle]:
    """List a building's bundles, newest first."""
    found = Bundle.objects.filter(firm_id=building.firm_id, building=building)
    return list(found.order_by("-made_at", "-pk")[:20])


def find_bundle_job(*, building: Building) -> Job | None:
    """Find the latest job that packs a building's bundle, while it is not over or has failed."""
    found = Job.objects.filter(firm_id=building.firm_id, key__startswith=f"bundle:{building.pk}:")
    return found.order_by("-queued_at", "-pk").first()


def list_outlooks(*, building: Building) -> list[OutlookPaper]:
    """List a building's printed outlooks without their text, newest first."""
    found = OutlookPaper.objects.filter(firm_id=building.firm_id, building=building)
    return list(found.defer("body").order_by("-made_at", "-pk")[:10])


def find_outlook_job(*, building: Building) -> Job | None:
    """Find the latest job that prints a building's outlook."""
    found = Job.objects.filter(firm_id=building.firm_id, key__startswith=f"outlook:{building.pk}:")
    return found.order_by("-queued_at", "-pk").first()


def get_outlook(
    *, firm_id: UUID, outlook_id: UUID, building_ids: Sequence[UUID] | None = None
) -> OutlookPaper:
    """Get one printed outlook; with buildings, only if it is of one of them."""
    found = OutlookPaper.objects.filter(firm_id=firm_id).select_related("building")
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    return found.get(pk=outlook_id)


def get_bundle(*, building: Building, bundle_id: UUID) -> Bundle:
    """Get one bundle of a building."""
    found = Bundle.objects.select_related("building")
    return found.get(firm_id=building.firm_id, building=building, pk=bundle_id)


def list_principals(*, firm_id: UUID) -> list[str]:
    """List the mail addresses of a firm's principals."""
    found = tenancy.list_members(firm_id=firm_id).filter(role=Role.PRINCIPAL, user__is_active=True)
    return sorted(set(found.values_list("user__email", flat=True)))


def last_head_mailed_at(*, firm_id: UUID) -> datetime | None:
    """Tell when the chain's end was mailed last."""
    found = AuditLine.objects.filter(firm_id=firm_id, action="chain.head_mailed").order_by("-at")
    return found.values_list("at", flat=True).first()


def count_sealed_since(*, firm_id: UUID, since: datetime) -> int:
    """Count the records sealed since an instant."""
    return SealedRecord.objects.filter(firm_id=firm_id, sealed_at__gt=since).count()


def gather(*, record: SealedRecord) -> pdf.Sealed:
    """Gather what is printed beside a record's text: its seal, and what it replaces."""
    earlier = (
        visits.list_records(visit=record.visit).filter(revision__lt=record.revision).first()
        if record.revision > 1
        else None
    )
    edited = None
    if earlier is not None:
        changes = list_differences(old=read_body(record=earlier), new=read_body(record=record))
        edited = contents.Edited(
            revision=earlier.revision,
            fingerprint=contents.group(earlier.record_hash),
            sealed_at=earlier.sealed_at,
            changes=tuple(changes),
        )
    return pdf.Sealed(
        record_hash=record.record_hash,
        chain_number=record.chain_number,
        chain_hash=record.chain_hash,
        sealed_at=record.sealed_at,
        edited=edited,
        verify_at=verify_at(),
    )


def verify_at() -> str:
    """Give the address where anyone may ask whether a paper is genuine."""
    return f"{settings.BASE_URL}/verify/"


def fetch_logo(*, firm_id: UUID, text: str) -> bytes:
    """Fetch the logo that a paper's text names; without one, or where it is lost, nothing."""
    sha256 = json.loads(text)["firm"].get("logo") or ""
    try:
        return files.fetch(firm_id=firm_id, sha256=sha256) if sha256 else b""
    except (FileNotFoundError, ValueError):
        return b""


def turns() -> Path:
    """Give the folder that holds this machine's turns to print."""
    return Path(settings.DATA_DIR) / "turns"
