"""Say whose letterhead a sealed paper has, as plain values; its logo is named by its hash."""

from typing import Any

from contractor.tenancy import files
from contractor.tenancy.models import FirmProfile


def describe_firm(*, profile: FirmProfile) -> dict[str, Any]:
    """Write the firm as it stands at the head of what is sealed now."""
    return {
        "name": profile.name,
        "address": profile.address,
        "telephone": profile.telephone,
        "email": profile.email,
        "licence": profile.licence,
        "paper": profile.paper,
        "logo": files.hash_of(bytes(profile.logo)) if profile.logo else "",
    }


def keep_logo(*, profile: FirmProfile) -> None:
    """Keep the logo under its hash: the firm may choose another, what was sealed keeps its own."""
    if profile.logo:
        files.keep(firm_id=profile.firm_id, data=bytes(profile.logo))
