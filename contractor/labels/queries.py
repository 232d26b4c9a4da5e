"""Read codes, what they hang on, and what was printed."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, Prefetch, QuerySet

from contractor.engine import label_codes
from contractor.labels.models import Binding, Label, PrintedLabel, PrintRun
from contractor.labels.stocks import STOCKS
from contractor.register import queries as register
from contractor.register.models import Building, Device

#: What get_x raises where there is no such row, or it is another firm's.
Missing = (Label.DoesNotExist, PrintRun.DoesNotExist)


def get_label(*, firm_id: UUID, label_id: UUID) -> Label:
    """Get one code with its device."""
    return Label.objects.select_related(
        "device", "device__building", "device__area", "retired_by", "made_by"
    ).get(firm_id=firm_id, pk=label_id)


def get_run(*, firm_id: UUID, run_id: UUID) -> PrintRun:
    """Get one print run."""
    return PrintRun.objects.select_related("building", "printed_by").get(firm_id=firm_id, pk=run_id)


def find_label(*, firm_id: UUID, text: str) -> Label | None:
    """Find the code that a camera saw or a person typed whole."""
    code = label_codes.read_scanned(text)
    return (
        Label.objects.filter(firm_id=firm_id, code=code).select_related("device").first()
        if code
        else None
    )


def list_devices(
    *, building: Building, show: str = "all", area: str = "", kind: str = ""
) -> QuerySet[Device]:
    """List a building's devices in walking order with their codes; `show` "none": those without."""
    mine = Label.objects.filter(firm_id=building.firm_id, device=OuterRef("pk"))
    found = register.list_devices(building=building).prefetch_related(
        Prefetch("codes", queryset=Label.objects.order_by("-is_ours", "made_at", "pk"))
    )
    if show == "none":
        found = found.filter(~Exists(mine))
    elif show == "labelled":
        found = found.filter(Exists(mine))
    if area:
        found = found.filter(area_id=area)
    return found.filter(kind=kind) if kind else found


@dataclass(frozen=True)
class Counts:
    """How many devices of a building hang there, and how many of them have no label."""

    devices: int
    without: int


def count_devices(*, building: Building) -> Counts:
    """Count a building's devices, and those without a label."""
    mine = Label.objects.filter(firm_id=building.firm_id, device=OuterRef("pk"))
    found = register.list_devices(building=building).aggregate(
        devices=Count("pk"), without=Count("pk", filter=~Exists(mine))
    )
    return Counts(found["devices"], found["without"])


def list_kinds(*, building: Building) -> list[tuple[str, str]]:
    """List the kinds of a building's devices, as key and words."""
    there = set(
        register.list_devices(building=building)
        .order_by()
        .values_list("kind", flat=True)
        .distinct()
    )
    return [(key, words) for key, words in register.KINDS if key in there]


def list_runs(*, firm_id: UUID, building: Building | None = None) -> QuerySet[PrintRun]:
    """List what was printed, newest first: for one building, or everything."""
    found = PrintRun.objects.filter(firm_id=firm_id).select_related("printed_by", "building")
    if building is not None:
        found = found.filter(building=building)
    return found.order_by("-printed_at", "-pk")


def list_printed(*, run: PrintRun) -> QuerySet[PrintedLabel]:
    """List the labels of a run by place."""
    return (
        PrintedLabel.objects.filter(firm_id=run.firm_id, run=run)
        .select_related("label", "label__device", "label__device__building")
        .order_by("place")
    )


def say_stock(key: str) -> str:
    """Name a size of labels."""
    return STOCKS[key].name if key in STOCKS else key


def list_bindings(*, label: Label) -> QuerySet[Binding]:
    """List what was said of a code, newest first."""
    return (
        Binding.objects.filter(firm_id=label.firm_id, label=label)
        .select_related("device", "device__building", "bound_by")
        .order_by("-stored_at", "-pk")
    )


def list_labels_of(*, device: Device) -> list[Label]:
    """List the codes that hang on a device, ours first."""
    return list(
        Label.objects.filter(firm_id=device.firm_id, device=device).order_by(
            "-is_ours", "made_at", "pk"
        )
    )


def list_earlier_of(*, device: Device) -> QuerySet[Binding]:
    """List the bindings of codes that once named a device and do not any more."""
    return (
        Binding.objects.filter(firm_id=device.firm_id, device=device)
        .exclude(label__device=device)
        .select_related("label", "bound_by")
        .order_by("-stored_at", "-pk")
    )


def list_disputed(*, firm_id: UUID, building: Building | None = None) -> list[Label]:
    """List the codes that people apart have bound to several devices."""
    found = Label.objects.filter(firm_id=firm_id, is_disputed=True)
    if building is not None:
        found = found.filter(
            Exists(
                Binding.objects.filter(
                    firm_id=firm_id, label=OuterRef("pk"), device__building=building
                )
            )
        )
    return list(found.order_by("code", "pk"))


def count_free(*, firm_id: UUID) -> int:
    """Count the printed codes that hang on nothing yet."""
    return Label.objects.filter(
        firm_id=firm_id, device=None, is_disputed=False, retired_at=None, is_ours=True
    ).count()


# For tablets

#: How many codes of other buildings go along, so that a wrong building is named without signal.
MOST_ELSEWHERE = 5000


def list_for_tablet(*, building: Building) -> dict[str, Any]:
    """Lay out the codes of a building, the unbound and retired ones, and some of other buildings.

    Of other buildings, those of the same customer come first. Past the limit a code is unknown to
    the tablet; the office sees where it hung when the binding arrives.
    """
    firm_id = building.firm_id
    mine = Label.objects.filter(firm_id=firm_id)
    rows = [
        *mine.filter(device__building=building).select_related("device").order_by("code"),
        *mine.filter(device=None).order_by("code"),
    ]
    said = _list_heads(rows)
    elsewhere: dict[str, list[str]] = defaultdict(list)
    others = (
        Label.objects.filter(firm_id=firm_id, device__isnull=False)
        .exclude(device__building=building)
        .select_related("device__building")
        .only("code", "device__building__name", "device__building__customer_id")
    )
    near = others.filter(device__building__customer_id=building.customer_id).order_by("code")
    far = others.exclude(device__building__customer_id=building.customer_id).order_by("code")
    left = MOST_ELSEWHERE
    for part in (near, far):
        for row in part[:left]:
            left -= 1
            assert row.device is not None
            elsewhere[row.device.building.name].append(row.code)
    return {
        "codes": [
            {
                "code": row.code,
                "device": str(row.device_id) if row.device_id else None,
                "address": row.device.address if row.device else "",
                "disputed": row.is_disputed,
                "retired": row.retired_at.date().isoformat() if row.retired_at else "",
                "bindings": said.get(row.pk, []),
            }
            for row in rows
        ],
        "elsewhere": dict(elsewhere),
    }


def _list_heads(rows: Iterable[Label]) -> Mapping[UUID, list[dict[str, Any]]]:
    """Gather the bindings of codes, oldest first."""
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    for one in Binding.objects.filter(label__in=[row.pk for row in rows]).order_by(
        "stored_at", "pk"
    ):
        found[one.label_id].append(
            {
                "id": str(one.pk),
                "device": str(one.device_id) if one.device_id else None,
                "replaces": one.replaces,
            }
        )
    return found
