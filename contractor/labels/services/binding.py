"""Bind codes to devices, take them off, retire them."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from contractor.engine import label_codes
from contractor.engine.label_standing import Bound, Standing, stand
from contractor.labels.models import Binding, Label
from contractor.register.models import Device
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day


class UnableToBind(Exception):
    """The code cannot be bound so; the text says what is so and what to do."""


@transaction.atomic
def bind(*, text: str, device: Device, reason: str, member: Member, now: datetime) -> Label:
    """Bind a code to a device at the office: a printed one, or whatever hangs there already.

    Raises
    ------
    UnableToBind
        If there is no code, it is retired, it names this device already, or it names another one
        and no reason is given.
    """
    code = label_codes.read_scanned(text)
    if not code:
        raise UnableToBind("Type the code, or scan it.")
    _refuse_misread(text)
    label = _open(firm_id=device.firm_id, code=code, member=member, now=now)
    if label.device_id == device.pk:
        raise UnableToBind(
            gettext("%(label)s hangs on %(address)s already.")
            % {"label": label, "address": device.address}
        )
    _bind(
        label=label,
        device=device,
        reason=reason,
        member=member,
        now=now,
        needs_reason=label.device_id is not None or label.is_disputed,
    )
    return label


def _refuse_misread(text: str) -> None:
    """Refuse what looks like one of our codes and fails its check character."""
    typed = label_codes.compact(text)
    groups = [len(part) for part in text.strip().split("-")]
    looks_ours = len(typed) == label_codes.LENGTH and groups == [label_codes.TAIL] * 3
    if looks_ours and not label_codes.read_code(text):
        raise UnableToBind(
            gettext(
                "%(text)s is not a code of ours: its last character does not fit. Compare it"
                " letter by letter."
            )
            % {"text": text.strip()}
        )


@transaction.atomic
def take_off(*, label: Label, reason: str, member: Member, now: datetime) -> Label:
    """Note that a code hangs on nothing any more; it may be bound again.

    Raises
    ------
    UnableToBind
        If it hangs on nothing, is retired, or no reason is given.
    """
    label = _lock(label)
    if label.device_id is None and not label.is_disputed:
        raise UnableToBind(gettext("%(label)s hangs on no device.") % {"label": label})
    _bind(label=label, device=None, reason=reason, member=member, now=now, needs_reason=True)
    return label


@transaction.atomic
def settle_dispute(
    *, label: Label, device: Device, reason: str, member: Member, now: datetime
) -> Label:
    """Decide which device a code names that several people have bound apart.

    Raises
    ------
    UnableToBind
        If nobody disagrees, or no reason is given.
    """
    label = _lock(label)
    if not label.is_disputed:
        raise UnableToBind(gettext("Nobody disagrees about %(label)s any more.") % {"label": label})
    _bind(label=label, device=device, reason=reason, member=member, now=now, needs_reason=True)
    return label


@transaction.atomic
def retire(*, label: Label, reason: str, member: Member, now: datetime) -> Label:
    """Take a code out of use for good: it is lost, torn, or hangs where it must not.

    Raises
    ------
    UnableToBind
        If it is retired, or no reason is given.
    """
    label = _lock(label)
    if not reason.strip():
        raise UnableToBind("Say why it is taken out of use; the reason stays with the code.")
    if label.device_id is not None or label.is_disputed:
        _bind(label=label, device=None, reason=reason, member=member, now=now, needs_reason=True)
    label.retired_at, label.retired_by = now, member
    label.retired_reason = reason.strip()[:200]
    label.save(update_fields=["retired_at", "retired_by", "retired_reason"])
    write_audit(
        member=member,
        action="label.retired",
        subject=label,
        summary=f"{label}: {reason.strip()}",
        now=now,
    )
    return label


@transaction.atomic
def take_binding(
    *,
    text: str,
    device: Device,
    replaces: Iterable[str],
    reason: str,
    binding_id: UUID,
    tablet: str,
    member: Member,
    made_at: datetime,
    now: datetime,
) -> Label:
    """Take in that a technician bound a code; what they had not seen is not replaced.

    Raises
    ------
    UnableToBind
        If there is no code, or it is retired.
    """
    code = label_codes.read_scanned(text)
    if not code:
        raise UnableToBind("It names no code.")
    label = _open(firm_id=device.firm_id, code=code, member=member, now=now)
    Binding.objects.create(
        id=binding_id,
        firm_id=label.firm_id,
        label=label,
        device=device,
        replaces=sorted(replaces)[:50],
        reason=reason.strip()[:200],
        tablet=tablet,
        bound_by=member,
        bound_at=made_at,
        stored_at=now,
    )
    _settle(label)
    return label


def _lock(label: Label) -> Label:
    label = Label.objects.select_for_update(of=("self",)).get(pk=label.pk)
    if label.retired_at is not None:
        raise UnableToBind(
            gettext(
                "%(label)s was taken out of use on %(retired_at)s:"
                " %(retired_reason)s Put another label on."
            )
            % {
                "label": label,
                "retired_at": say_day(timezone.localtime(label.retired_at)),
                "retired_reason": label.retired_reason,
            }
        )
    return label


def _open(*, firm_id: UUID, code: str, member: Member, now: datetime) -> Label:
    """Find the code, or write it down as one that was found; answer it locked."""
    label, _ = Label.objects.get_or_create(
        firm_id=firm_id,
        code=code,
        defaults={"is_ours": False, "made_at": now, "made_by": member},
    )
    return _lock(label)


def _bind(
    *,
    label: Label,
    device: Device | None,
    reason: str,
    member: Member,
    now: datetime,
    needs_reason: bool,
) -> None:
    """Add a binding that replaces all that stands."""
    if needs_reason and not reason.strip():
        said = gettext("%(label)s was bound") % {"label": label}
        if label.device:
            hangs = gettext("%(label)s hangs on %(address)s")
            said = hangs % {"label": label, "address": label.device.address}
        raise UnableToBind(
            gettext("%(value)s. Say why this changes; the reason stays with the code.")
            % {"value": said}
        )
    if device is not None and device.removed_on is not None:
        raise UnableToBind(
            gettext("%(address)s was taken down. Bind the code to what hangs there.")
            % {"address": device.address}
        )
    before = str(label.device) if label.device else ""
    Binding.objects.create(
        id=uuid7(),
        firm_id=label.firm_id,
        label=label,
        device=device,
        replaces=[str(one.id) for one in find_standing(label=label).heads],
        reason=reason.strip()[:200],
        bound_by=member,
        bound_at=now,
        stored_at=now,
    )
    _settle(label)
    write_audit(
        member=member,
        action="label.bound" if device else "label.taken_off",
        subject=label,
        summary=f"{label}: {device or 'no device'}. {reason.strip()}".strip(),
        before={"device": before},
        after={"device": str(device) if device else ""},
        now=now,
    )


def find_standing(*, label: Label) -> Standing:
    """Find out what stands of everything that was said of a code."""
    rows: Iterable[Any] = Binding.objects.filter(firm_id=label.firm_id, label=label)
    return stand(
        bindings=[
            Bound(str(row.pk), row.device_id, frozenset(str(key) for key in row.replaces))
            for row in rows
        ]
    )


def _settle(label: Label) -> None:
    """Write beside the code what stands of its bindings."""
    standing = find_standing(label=label)
    label.device_id = standing.device  # type: ignore[assignment]
    label.is_disputed = standing.is_disputed
    label.save(update_fields=["device", "is_disputed"])
