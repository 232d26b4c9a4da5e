"""Keep the firm's own page, and the logo of its letterhead."""

import io
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext
from PIL import Image, UnidentifiedImageError

from contractor.people.services.errors import UnableToSeat
from contractor.tenancy.models import FirmProfile, Member
from contractor.tenancy.services import keep_changes, write_audit
from contractor.tenancy.signed_in import has_second_factor

LOGO_TYPES = ("PNG", "JPEG", "WEBP")
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
        # The head alone tells the size; pixels are read only after it was judged.
        with Image.open(io.BytesIO(data), formats=LOGO_TYPES) as picture:
            if picture.width * picture.height > LOGO_PIXELS:
                raise UnableToSeat(
                    gettext(
                        "The picture has %(width)s times %(height)s points. Send one of"
                        " 2,000 points or less a side."
                    )
                    % {"width": picture.width, "height": picture.height}
                )
            drawn = picture.convert("RGBA")
            drawn.thumbnail(LOGO_SIZE)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        raise UnableToSeat(
            "This is no picture that can be read. Send a PNG, JPEG or WebP."
        ) from error
    out = io.BytesIO()
    drawn.save(out, "PNG", optimize=True)
    return out.getvalue()


@transaction.atomic
def drop_logo(*, profile: FirmProfile, member: Member, now: datetime) -> None:
    """Take the logo away."""
    FirmProfile.objects.filter(pk=profile.pk).update(logo=None)
    write_audit(member=member, action="firm.logo_dropped", subject=profile, now=now)
