"""Read members' licences and invitations, and tell what speaks against sending somebody."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext

from contractor.people.models import Invitation, Licence
from contractor.register import queries as register
from contractor.register.models import Building, Instrument, InstrumentKind, Kind
from contractor.tenancy.models import Member, Role
from contractor.web.charts.pen import say_day

Missing = (Licence.DoesNotExist, Invitation.DoesNotExist, Member.DoesNotExist)
ROLES = Role.choices
#: How long before its end a licence is told of: common practice, no source.
AHEAD = (timedelta(days=60), timedelta(days=14))


def get_member(*, firm_id: UUID, member_id: UUID) -> Member:
    """Get one member, also one who has left."""
    return Member.objects.select_related("user").get(firm_id=firm_id, pk=member_id)


def list_people(*, firm_id: UUID) -> QuerySet[Member]:
    """List all members, those who have left last."""
    return (
        Member.objects.filter(firm_id=firm_id)
        .select_related("user")
        .order_by(F("left_on").asc(nulls_first=True), "name", "pk")
    )


def list_licences(*, firm_id: UUID, member: Member | None = None) -> QuerySet[Licence]:
    """List a member's licences, or the firm's own; the next to end first."""
    return Licence.objects.filter(firm_id=firm_id, member=member).order_by(
        F("ended_on").asc(nulls_first=True), F("ends_on").asc(nulls_last=True), "kind", "pk"
    )


def map_licences(*, firm_id: UUID) -> dict[UUID | None, list[Licence]]:
    """Give the licences of each member, and of the firm under None, in one query."""
    found: dict[UUID | None, list[Licence]] = defaultdict(list)
    for one in Licence.objects.filter(firm_id=firm_id, ended_on=None).order_by(
        F("ends_on").asc(nulls_last=True), "kind", "pk"
    ):
        found[one.member_id].append(one)
    return found


def get_licence(*, firm_id: UUID, licence_id: UUID) -> Licence:
    """Get one licence with whose it is."""
    return Licence.objects.select_related("member").get(firm_id=firm_id, pk=licence_id)


def list_ending(*, firm_id: UUID, until: date) -> QuerySet[Licence]:
    """List licences of the firm and of members still here that end by a day, the first first."""
    return (
        Licence.objects.filter(firm_id=firm_id, ended_on=None, ends_on__lte=until)
        .filter(Q(member=None) | Q(member__left_on=None))
        .select_related("member__user")
        .order_by("ends_on", "kind", "pk")
    )


def list_jurisdictions(*, firm_id: UUID) -> list[str]:
    """List the places that buildings name, for whoever enters a licence."""
    return list(
        Building.objects.filter(firm_id=firm_id)
        .exclude(jurisdiction="")
        .order_by("jurisdiction")
        .values_list("jurisdiction", flat=True)
        .distinct()
    )


def list_invitations(*, firm_id: UUID) -> QuerySet[Invitation]:
    """List the invitations that nobody has taken or cancelled, the latest first."""
    return (
        Invitation.objects.filter(firm_id=firm_id, used_at=None, cancelled_at=None)
        .select_related("invited_by")
        .order_by("-invited_at", "-pk")
    )


def get_invitation(*, firm_id: UUID, invitation_id: UUID) -> Invitation:
    """Get one invitation."""
    return Invitation.objects.select_related("invited_by").get(firm_id=firm_id, pk=invitation_id)


def is_open(invitation: Invitation, now: datetime) -> bool:
    """Tell whether an invitation can still be taken."""
    return (
        invitation.used_at is None and invitation.cancelled_at is None and now < invitation.ends_at
    )


@dataclass(frozen=True)
class Papers:
    """A firm's licences and instruments, read once to judge many visits."""

    licences: dict[UUID | None, list[Licence]]
    instruments: list[Instrument]  # in use

    def list_warnings(
        self,
        *,
        jurisdiction: str,
        planned_on: date,
        members: Iterable[Member],
        tasks: Sequence[str],
        kinds: Collection[str],
    ) -> list[str]:
        """List, in sentences, whose licence or which calibration would not hold on a visit.

        A place asks for a licence where anybody of the firm has one on file that names it: common
        practice, no source; what the place's law asks is for the firm to know.

        kinds: of the devices of the visit.
        """
        found = []
        place = jurisdiction.strip()
        named = [
            one
            for mine in self.licences.values()
            for one in mine
            if place and one.jurisdiction.strip().casefold() == place.casefold()
        ]
        if any(one.member_id is not None for one in named):
            for member in members:
                mine = self.licences.get(member.pk, [])
                if not any(one.holds(jurisdiction=place, on=planned_on) for one in mine):
                    found.append(_lacking(member.name, mine, place, planned_on))
        own = [one for one in named if one.member_id is None]
        if own and not any(one.holds(jurisdiction=place, on=planned_on) for one in own):
            found.append(
                gettext(
                    "The firm's own licence for %(place)s ends on %(day)s, before this visit. "
                    "Renew it first."
                )
                % {"place": place, "day": say_day(own[-1].ends_on)}
                if own[-1].ends_on
                else gettext("The firm's own licence for %(place)s does not hold on this day.")
                % {"place": place}
            )
        return found + self._uncalibrated(planned_on, tasks, kinds)

    def _uncalibrated(self, on: date, tasks: Sequence[str], kinds: Collection[str]) -> list[str]:
        """Name the kinds of instrument that a visit needs and none of which is in calibration."""
        found = []
        for kind, is_asked in (
            (InstrumentKind.SENSITIVITY, "sensitivity" in tasks),
            (InstrumentKind.SOUND, "functional" in tasks and Kind.AUDIBLE in kinds),
            (InstrumentKind.BATTERY, "functional" in tasks and Kind.BATTERY in kinds),
        ):
            mine = [one for one in self.instruments if one.kind == kind]
            # Without any instrument on file the firm keeps none here; of the other kinds many
            # firms calibrate none, so that only what is on file can be out of calibration.
            if not is_asked or not (
                mine or (self.instruments and kind == InstrumentKind.SENSITIVITY)
            ):
                continue
            if not any(one.calibration_ends_on and one.calibration_ends_on >= on for one in mine):
                found.append(_say_uncalibrated(str(kind.label), mine, on))
        return found


def load_papers(*, firm_id: UUID) -> Papers:
    """Read a firm's licences and instruments."""
    return Papers(map_licences(firm_id=firm_id), list(register.list_instruments(firm_id=firm_id)))


def list_warnings(
    *,
    building: Building,
    planned_on: date,
    member_ids: Sequence[UUID],
    tasks: Sequence[str],
    kinds: Collection[str] | None = None,
) -> list[str]:
    """List, in sentences, whose licence or which calibration would not hold on a visit.

    kinds: of the devices of the visit; without them, all that the building has.
    """
    people = Member.objects.filter(firm_id=building.firm_id, pk__in=member_ids)
    if kinds is None:
        kinds = register.list_kinds(building=building)
    return load_papers(firm_id=building.firm_id).list_warnings(
        jurisdiction=building.jurisdiction,
        planned_on=planned_on,
        members=people.order_by("name", "pk"),
        tasks=tasks,
        kinds=kinds,
    )


def _lacking(name: str, mine: Sequence[Licence], place: str, on: date) -> str:
    over = [
        one
        for one in mine
        if one.ends_on and one.jurisdiction.casefold() == place.casefold() and one.is_over(on)
    ]
    if over:
        last = max(over, key=lambda one: one.ends_on or date.min)
        return gettext(
            "%(name)s's licence for %(place)s (%(licence)s) ends on %(day)s, before this visit. "
            "Renew it, or send somebody else."
        ) % {
            "name": name,
            "place": place,
            "licence": last,
            "day": say_day(last.ends_on or on),
        }
    return gettext(
        "%(name)s has no licence on file for %(place)s that holds on %(day)s. Enter it on their "
        "page, or send somebody else."
    ) % {"name": name, "place": place, "day": say_day(on)}


def _say_uncalibrated(kind: str, mine: Sequence[Instrument], on: date) -> str:
    names = ", ".join(
        gettext("%(name)s ends %(day)s")
        % {"name": one.name, "day": say_day(one.calibration_ends_on)}
        if one.calibration_ends_on
        else gettext("%(name)s has none on file") % {"name": one.name}
        for one in mine
    )
    said = {"kind": gettext(kind), "day": say_day(on), "names": names}
    if not names:
        return gettext("No %(kind)s is in calibration on %(day)s: none is on file.") % said
    return (
        gettext(
            "No %(kind)s is in calibration on %(day)s: %(names)s. Readings made with one would "
            "carry a calibration that is over."
        )
        % said
    )
