"""Keep the firm's own page, and the logo of its letterhead."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from contractor.people.services.errors import UnableToSeat
from contractor.tenancy import pictures
from contractor.tenancy.models import FirmProfile, Member
from contractor.tenancy.services import keep_changes, write_audit
from contractor.tenancy.signed_in import has_second_factor

LOGO_BYTES = 4 * 2**20
LOGO_PIXELS = 20_000_000
LOGO_SIZE = (900, 300)  # as kept [px]


@dataclass(frozen=True)
class FirmFacts:
    """What a firm prints on its papers, and its ways of working."""

    name: str
    address: str
    telephone: str
    email: str
    licence: str
    paper: str
    time_zone: str
    obscuration_unit: str
    language: str
    needs_second_factor: bool


@transaction.atomic
def change_profile(
    *, profile: FirmProfile, facts: FirmFacts, member: Member, now: datetime
) -> FirmProfile:
    """Change the firm's page.

    Raises
    ------
    UnableToSeat
        If a second factor is asked of everybody by somebody who has none.
    """
    profile = FirmProfile.objects.select_for_update().get(pk=profile.pk)
    is_new = facts.needs_second_factor and not profile.needs_second_factor
    if is_new and not has_second_factor(user_id=member.user_id):
        raise UnableToSeat(
            "Set up a second factor for yourself first; otherwise this would shut you out."
        )
    keep_changes(row=profile, facts=facts.__dict__, member=member, action="firm.changed", now=now)
    return profile


@transaction.atomic
def keep_logo(*, profile: FirmProfile, data: bytes, member: Member, now: datetime) -> None:
    """Keep a logo: what was sent is drawn anew as a PNG, so that nothing else in it is kept.

    Raises
    ------
    UnableToSeat
        If it is no picture, or too large.
    """
    logo = _redrawn(data)
    FirmProfile.objects.filter(pk=profile.pk).update(logo=logo)
    write_audit(
        member=member,
        action="firm.logo_kept",
        subject=profile,
        summary=f"{len(logo):,} bytes",
        now=now,
    )


def _redrawn(data: bytes) -> bytes:
    if len(data) > LOGO_BYTES:
        raise UnableToSeat(
            gettext("The picture has more than %(logo_bytes)s MB. Send a smaller.")
            % {"logo_bytes": LOGO_BYTES // 2**20}
        )
    try:
        return pictures.draw_anew(
            data, most_points=LOGO_PIXELS, within=LOGO_SIZE, form="PNG", optimize=True
        )
    except pictures.TooManyPoints as error:
        if not error.width:
            raise UnableToSeat(
                "The picture has more points than can be drawn. Send one of 2,000 points or less a"
                " side."
            ) from error
        raise UnableToSeat(
            gettext(
                "The picture has %(width)s times %(height)s points. Send one of"
                " 2,000 points or less a side."
            )
            % {"width": error.width, "height": error.height}
        ) from error
    except pictures.NoPicture as error:
        raise UnableToSeat(
            "This is no picture that can be read. Send a PNG, JPEG or WebP."
        ) from error


@transaction.atomic
def drop_logo(*, profile: FirmProfile, member: Member, now: datetime) -> None:
    """Take the logo away."""
    FirmProfile.objects.filter(pk=profile.pk).update(logo=None)
    write_audit(member=member, action="firm.logo_dropped", subject=profile, now=now)
