"""Have a received entry count on its visit, through the visit's own services."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.translation import override

from contractor.engine.label_codes import LONGEST
from contractor.field import queries
from contractor.field.models import Received, Why
from contractor.findings import services as findings
from contractor.findings.models import Severity
from contractor.labels import services as labels
from contractor.power import services as power
from contractor.power.understanding import NUMBERS
from contractor.readings.services import UnableToRecord
from contractor.register import services as register
from contractor.register.models import Area, Device, Instrument, Kind, System
from contractor.tenancy.models import Member
from contractor.visits import services as visits
from contractor.visits.models import Visit, VisitDevice, VisitState


class Refused(Exception):
    """The entry does not count as it is; `why` says for what the office looks at it."""

    def __init__(self, why: str, sentence: str = "") -> None:
        super().__init__(sentence or str(Why(why).label))
        self.why, self.sentence = why, sentence


@dataclass(frozen=True)
class Said:
    """One received entry, laid out for the services."""

    received: Received
    visit: Visit
    member: Member
    body: Mapping[str, Any]
    sent: visits.Sent
    why: str

    @property
    def common(self) -> dict[str, Any]:
        """What every service asks for."""
        return {
            "visit": self.visit,
            "member": self.member,
            "now": self.received.made_at,
            "entry_id": self.received.entry_id,
            "sent": self.sent,
        }

    def text(self, name: str, most: int = 200) -> str:
        """Give one piece of text."""
        value = self.body.get(name, "")
        return value.strip()[:most] if isinstance(value, str) else ""

    def key(self, name: str) -> UUID | None:
        """Give one key; None where it is none."""
        try:
            return UUID(self.text(name))
        except ValueError:
            return None

    def device(self) -> Device:
        """Give the device that it is about."""
        placed = (
            VisitDevice.objects.filter(visit=self.visit, device_id=self.received.device_key)
            .select_related("device", "device__product", "device__system")
            .first()
        )
        if placed is None:
            raise Refused(Why.DEVICE_UNKNOWN)
        return placed.device


def apply(*, received: Received, visit: Visit, member: Member, why: str = "") -> Device | None:
    """Enter what was received on its visit, which is locked; answer the device it is about.

    Raises
    ------
    Refused
        If the visit is closed, the device is not on it, or its services refuse it.
    """
    if visit.state in (VisitState.SIGNED_OFF, VisitState.CANCELLED):
        raise Refused(Why.VISIT_CLOSED, f"The visit is {visit.get_state_display()}.")
    entry = json.loads(received.payload)
    said = Said(
        received=received,
        visit=visit,
        member=member,
        body=entry["body"] if isinstance(entry.get("body"), dict) else {},
        sent=visits.Sent(
            tablet=str(received.tablet_id),
            sequence=received.sequence,
            stored_at=received.received_at,
            replaces=[key for key in entry.get("supersedes", []) if isinstance(key, str)],
        ),
        why=why or "it came from a tablet.",
    )
    act = _ACTS.get(received.kind)
    if act is None:
        raise Refused(Why.FORM, f"This server does not know entries of the kind {received.kind}.")
    try:
        with transaction.atomic(), override(settings.LANGUAGE_CODE):  # why not is kept with it
            return act(said)
    except (
        visits.UnableToEnter,
        visits.UnableToPlan,
        visits.UnableToClose,
        register.UnableToChange,
        labels.UnableToBind,
        UnableToRecord,
    ) as error:
        raise Refused(Why.REFUSED, str(error)) from None
    except IntegrityError:
        raise Refused(Why.REFUSED, "Another entry on this server bears its key.") from None


def _result(said: Said) -> Device:
    device = said.device()
    severity = said.text("severity")
    visits.record_result(
        **said.common,
        device=device,
        task=said.text("task"),
        result=said.text("result"),
        reason=said.text("reason"),
        text=said.text("text", 2000),
        severity=severity if severity in Severity.values else "",
        why=said.why,
    )
    return device


def _reading(said: Said) -> Device:
    device = said.device()
    typed = said.body.get("said")
    instrument = Instrument.objects.filter(pk=said.key("instrument")).first()
    visits.record_sensitivity(
        **said.common,
        device=device,
        said={k: str(v)[:40] for k, v in typed.items()} if isinstance(typed, dict) else {},
        stage=said.text("stage"),
        method=said.text("method"),
        instrument=instrument,
        override_state=said.text("override_state"),
        override_reason=said.text("override_reason"),
        why=said.why,
    )
    return device


def _not_tested(said: Said) -> Device:
    device = said.device()
    visits.record_not_tested(
        **said.common,
        device=device,
        task=said.text("task"),
        reason=said.text("reason"),
        why=said.why,
    )
    return device


def _cleaned(said: Said) -> Device:
    device = said.device()
    visits.clean(**said.common, device=device, why=said.why)
    return device


def _replaced(said: Said) -> Device:
    device = said.device()
    visits.replace(
        **said.common,
        device=device,
        serial=said.text("serial", 60),
        reason=said.text("reason"),
        device_id=said.key("new_device"),
        why=said.why,
    )
    return device


def _added(said: Said) -> Device:
    systems = System.objects.filter(building_id=said.visit.building_id)
    system = systems.filter(pk=said.key("system")).first()
    area = Area.objects.filter(building_id=said.visit.building_id, pk=said.key("area")).first()
    if system is None or said.text("kind") not in Kind.values:
        raise Refused(Why.REFUSED, "Its system or kind is not known here.")
    return visits.add_found(
        visit=said.visit,
        system=system,
        address=said.text("address", 40),
        kind=said.text("kind"),
        label=said.text("label", 160),
        area=area,
        member=said.member,
        now=said.received.made_at,
        device_id=said.received.device_key,
    )


def _note(said: Said) -> Device | None:
    device = said.device() if said.received.device_key else None
    visits.note(**said.common, device=device, text=said.text("text", 2000))
    return device


def _words(said: Said) -> Device | None:
    """Write a record of the trade down in the words that its author saw."""
    device = said.device() if said.received.device_key else None
    visits.note(**said.common, device=device, text=said.text("words", 2000))
    return device


def _measured(said: Said) -> Device | None:
    """Record what was measured; a battery set of the device list by its own service."""
    device = said.device() if said.received.device_key else None
    figures = said.body.get("said")
    typed = figures if isinstance(figures, dict) else {}
    typed = {key: value[:160] for key, value in typed.items() if isinstance(value, str)}
    place = typed.pop("where", "")
    if device is None or device.kind != Kind.BATTERY or said.text("what") != "battery":
        visits.record_measurement(
            **said.common, device=device, what=said.text("what"), place=place, said=typed
        )
        return device
    try:
        power.record_battery_test(
            device=device,
            tested_on=said.visit.building.day_at(said.received.made_at),
            # What looked like a slip was shown to its author, who saved it all the same.
            said={name: typed[name] for name in NUMBERS if name in typed} | {"sure": "yes"},
            remark=place,
            visit_id=said.visit.pk,
            member=said.member,
            now=said.received.made_at,
        )
    except power.UnableToRecord as error:
        raise Refused(Why.REFUSED, " ".join(error.problems.values())) from None
    return device


def _taken_back(said: Said) -> Device:
    device = said.device()
    common = said.common
    visits.take_back_sent(**common, device=device, task=said.text("task"), why=said.why)
    return device


def _attribute(said: Said) -> Device:
    device = said.device()
    try:
        register.correct_device(
            device=device,
            field=said.text("field"),
            before=said.text("before"),
            after=said.text("after"),
            member=said.member,
            now=said.received.made_at,
        )
    except register.ChangedMeanwhile as error:
        raise Refused(Why.CHANGED, str(error)) from None
    return device


def _bound(said: Said) -> Device:
    device = said.device()
    seen = said.body.get("replaces")
    labels.take_binding(
        text=said.text("code", LONGEST),
        device=device,
        replaces=[key for key in seen if isinstance(key, str)] if isinstance(seen, list) else [],
        reason=said.text("reason"),
        binding_id=said.received.entry_id,
        tablet=said.received.tablet.name,
        member=said.member,
        made_at=said.received.made_at,
        now=said.received.received_at,
    )
    return device


def _finding(said: Said) -> Device | None:
    device = said.device() if said.received.device_key else None
    severity = said.text("severity")
    if severity not in Severity.values or not said.text("title"):
        raise Refused(Why.REFUSED, "It does not say what is wrong, or how grave it is.")
    findings.open_finding(
        building=said.visit.building,
        device=device,
        severity=severity,
        title=said.text("title", 160),
        text=said.text("text", 2000),
        member=said.member,
        now=said.received.made_at,
        visit_id=said.visit.pk,
    )
    return device


def _begin(said: Said) -> None:
    if said.visit.state != VisitState.PLANNED:
        return  # somebody else's tablet began it; the first time stands
    cautions = said.body.get("cautions")
    visits.begin_visit(
        visit=said.visit,
        notified_before=said.text("notified", 2000),
        cautions=[str(one) for one in cautions] if isinstance(cautions, list) else [],
        member=said.member,
        now=said.received.made_at,
    )


def _hand_in(said: Said) -> None:
    if open_ones := queries.list_bypassed(visit=said.visit):
        raise Refused(Why.REFUSED, f"Still bypassed or disconnected: {'; '.join(open_ones)}.")
    visits.hand_in(
        visit=said.visit,
        notified_after=said.text("notified", 2000),
        reason_for_rest=said.text("reason_for_rest"),
        member=said.member,
        now=said.received.made_at,
    )


_ACTS: dict[str, Callable[[Said], Device | None]] = {
    "result": _result,
    "reading": _reading,
    "not_tested": _not_tested,
    "cleaned": _cleaned,
    "replaced": _replaced,
    "added": _added,
    "note": _note,
    "taken_back": _taken_back,
    "attribute": _attribute,
    "finding": _finding,
    "bound": _bound,
    "measured": _measured,
    "log": _words,
    "signature": _words,
    "begin": _begin,
    "hand_in": _hand_in,
}
