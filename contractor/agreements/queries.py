"""Read what was promised."""

from datetime import date
from uuid import UUID

from django.db.models import QuerySet

from contractor.agreements.models import Agreement


def list_ending(*, firm_id: UUID, today: date, until: date) -> QuerySet[Agreement]:
    """List the agreements that end between today and a day, the next first."""
    return (
        Agreement.objects.filter(firm_id=firm_id, ends_on__gte=today, ends_on__lte=until)
        .select_related("customer")
        .order_by("ends_on", "number", "pk")
    )
