"""Lists kept under a name, and the history of one thing."""

from typing import Any

from django.urls import NoReverseMatch, reverse

from contractor.tenancy.models import AuditLine, Member, SavedList
from contractor.tenancy.queries import Kept, list_kept

#: Things with a history, by the label of their rows: what they are called, and their page.
SUBJECTS = {
    "register.customer": ("customer", "register:customer", "customer_id"),
    "register.building": ("building", "register:building", "building_id"),
    "register.device": ("device", "register:device", "device_id"),
    "register.product": ("product", "register:change_product", "product_id"),
    "register.instrument": ("instrument", "register:change_instrument", "instrument_id"),
    "visits.visit": ("visit", "visits:visit", "visit_id"),
    "findings.finding": ("finding", "findings:finding", "finding_id"),
    "agreements.agreement": ("agreement", "agreements:agreement", "agreement_id"),
    "tenancy.member": ("person", "people:member", "member_id"),
}


def address_of(saved: SavedList | Kept, firm: str) -> str:
    """Give the address of a kept list with its filters; empty where the page is gone."""
    try:
        path = reverse(saved.page, kwargs={"firm": firm})
    except NoReverseMatch:
        return ""
    return f"{path}?{saved.query}" if saved.query else path


def kept_of(member: Member, page: str, firm: str) -> list[tuple[Kept, str]]:
    """List what is kept of one list, each with its address."""
    return [(one, address_of(one, firm)) for one in list_kept(member=member, page=page)]


def list_differences(line: AuditLine) -> list[tuple[str, str, str]]:
    """List what an audit line says of each field: its name, before, after."""
    before, after = line.before, line.after
    if before is None and after is None:
        return []
    if not (isinstance(before or {}, dict) and isinstance(after or {}, dict)):
        return [("", _said(before), _said(after))]
    before, after = before or {}, after or {}
    names = [*before, *(name for name in after if name not in before)]
    return [
        (
            name.removesuffix("_id").replace("_", " "),
            _said(before.get(name)),
            _said(after.get(name)),
        )
        for name in names
        if before.get(name) != after.get(name)
    ]


def _said(value: Any) -> str:
    if value in (None, "", [], {}):
        return "none"
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
