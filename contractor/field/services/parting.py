"""Revoke the tablets of a member who leaves."""

from django.db.models import Exists, OuterRef, QuerySet

from contractor.field.models import Tablet, TabletUse
from contractor.field.services.enrolling import revoke
from contractor.tenancy.leaving import Leaving
from contractor.tenancy.models import Member


def _own(of: Member) -> QuerySet[Tablet]:
    """List the tablets that a member has used, and nobody else who is still here."""
    uses = TabletUse.objects.filter(firm_id=of.firm_id, tablet=OuterRef("pk"))
    return Tablet.objects.filter(
        Exists(uses.filter(member=of)),
        ~Exists(uses.filter(member__left_on=None).exclude(member=of)),
        firm_id=of.firm_id,
        revoked_at=None,
    ).order_by("name", "pk")


def tell_tablets(of: Member) -> list[str]:
    """List a member's own tablets, with what is still on them."""
    return [
        f"{one.name}: {one.announced - one.held} entries are still on it, collect it first"
        if one.announced > one.held
        else one.name
        for one in _own(of)
    ]


def revoke_own(what: Leaving) -> int:
    """Revoke them: no more work goes there; what they still hold comes in for review."""
    found = list(_own(what.member))
    for one in found:
        revoke(tablet=one, member=what.by, now=what.now)
    return len(found)
