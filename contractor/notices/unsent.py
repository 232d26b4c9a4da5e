"""Tell the office, and whoever took the visit along, of work that stays on a tablet."""

from datetime import datetime
from functools import partial
from uuid import UUID
from zoneinfo import ZoneInfo

from contractor.field.unsent import list_unsent
from contractor.notices import letters
from contractor.notices.models import NoticeKind
from contractor.notices.services import Recipient, owe
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import FirmProfile


def owe_unsent(
    *, firm_id: UUID, profile: FirmProfile, slug: str, now: datetime, morning: int
) -> int:
    """Owe a mail for each visit whose work stays on a tablet: once, until something comes."""
    stuck = list_unsent(firm_id=firm_id, now=now)
    office = [
        Recipient(address, name)
        for name, address in (tenancy.list_office_addresses(firm_id=firm_id) if stuck else ())
    ]
    owed = 0
    for one in stuck:
        holding = one.holding
        building = holding.visit.building
        if now.astimezone(ZoneInfo(building.time_zone)).hour < morning:
            continue
        taker = holding.packed_by
        theirs = [Recipient(taker.user.email, taker.name)] if taker.left_on is None else []
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.UNSENT,
            object_id=holding.pk,
            occurrence=f"{one.since:%Y-%m-%dT%H:%M}",
            to=list({person.address: person for person in [*office, *theirs]}.values()),
            write=partial(letters.unsent, unsent=one, firm=profile, slug=slug),
            now=now,
        )
    return owed
