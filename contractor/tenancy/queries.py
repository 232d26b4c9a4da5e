"""Read firms, members and jobs."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple
from uuid import UUID

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q, QuerySet

from contractor.tenancy.models import (
    AuditLine,
    Deed,
    Firm,
    FirmProfile,
    Job,
    Member,
    Paper,
    Role,
    SavedList,
    User,
)

PAPERS = Paper.choices


@dataclass(frozen=True)
class Seat:
    """One place a signed-in person may go to."""

    firm_slug: str
    kind: str  # "member" or "owner"


def list_seats(*, user_id: UUID) -> list[Seat]:
    """List where a person may go, in whichever firms their seats lie.

    The only read across firms: the database shows a person their own seats, nobody else's.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("select set_config('app.user_id', %s, true)", [str(user_id)])
        cursor.execute(
            "select f.slug, 'member' from tenancy_member m join tenancy_firm f on f.id = m.firm_id"
            " where m.user_id = %s and m.left_on is null"
            " union select f.slug, 'owner' from owners_ownerseat s"
            " join tenancy_firm f on f.id = s.firm_id where s.user_id = %s and s.ended_at is null"
            " order by 2, 1",
            [user_id, user_id],
        )
        seats = [Seat(firm_slug=slug, kind=kind) for slug, kind in cursor.fetchall()]
        cursor.execute("select set_config('app.user_id', '', true)")
    return seats


def has_had_seat(*, user_id: UUID) -> bool:
    """Whether a person has a seat in any firm, or had one."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("select set_config('app.user_id', %s, true)", [str(user_id)])
        cursor.execute(
            "select exists (select from tenancy_member where user_id = %s)"
            " or exists (select from owners_ownerseat where user_id = %s)",
            [user_id, user_id],
        )
        found: bool = cursor.fetchone()[0]
        cursor.execute("select set_config('app.user_id', '', true)")
    return found


def find_firm(*, slug: str) -> Firm | None:
    """Find a firm by its slug."""
    return Firm.objects.filter(slug=slug).first()


def get_slug(*, firm_id: UUID) -> str:
    """Get the word that stands for a firm in addresses."""
    return Firm.objects.values_list("slug", flat=True).get(pk=firm_id)


def list_firm_ids() -> list[UUID]:
    """List every firm, for jobs that go round."""
    return list(Firm.objects.order_by("pk").values_list("pk", flat=True))


def get_profile(*, firm_id: UUID) -> FirmProfile:
    """Get what the firm prints on its papers."""
    return FirmProfile.objects.get(firm_id=firm_id)


def find_language(*, firm_id: UUID) -> str:
    """Tell the language of a firm's mails and papers; English where it has named none."""
    return find_manner(firm_id=firm_id)[0]


def find_manner(*, firm_id: UUID) -> tuple[str, str]:
    """Tell the language of a firm's mails and papers, and its time zone."""
    found = FirmProfile.objects.filter(firm_id=firm_id).values_list("language", "time_zone")
    language, zone = found.first() or ("", settings.TIME_ZONE)
    return language or settings.LANGUAGE_CODE, zone


def find_member(*, user_id: UUID) -> Member | None:
    """Find a person's seat in the active firm, unless they have left."""
    return Member.objects.filter(user_id=user_id, left_on=None).first()


def list_members(*, firm_id: UUID) -> QuerySet[Member]:
    """List the firm's people who have not left, by name."""
    return Member.objects.filter(firm_id=firm_id, left_on=None).order_by("name", "pk")


def list_office_addresses(*, firm_id: UUID) -> list[tuple[str, str]]:
    """List whom the firm's own mails go to: principals and office, as name and address."""
    rows = Member.objects.filter(
        firm_id=firm_id, left_on=None, role__in=[Role.PRINCIPAL, Role.OFFICE]
    )
    return list(rows.order_by("name", "pk").values_list("name", "user__email"))


def list_principal_addresses(*, firm_id: UUID) -> list[tuple[str, str]]:
    """List the principals, as name and address."""
    rows = Member.objects.filter(firm_id=firm_id, left_on=None, role=Role.PRINCIPAL)
    return list(rows.order_by("name", "pk").values_list("name", "user__email"))


def get_job(*, firm_id: UUID, job_id: UUID) -> Job:
    """Get one job."""
    return Job.objects.get(firm_id=firm_id, pk=job_id)


def find_job(*, firm_id: UUID, key: str) -> Job | None:
    """Find a job by its key."""
    return Job.objects.filter(firm_id=firm_id, key=key).first()


def list_audit_lines(*, firm_id: UUID, subject_id: UUID) -> QuerySet[AuditLine]:
    """List what was done to one thing, newest first."""
    return AuditLine.objects.filter(firm_id=firm_id, subject_id=subject_id).order_by("-at", "-pk")


def list_saved(*, member: Member) -> QuerySet[SavedList]:
    """List the lists that a member keeps or the firm shares, by page and name."""
    found = SavedList.objects.filter(firm_id=member.firm_id).filter(Q(owner=member) | Q(owner=None))
    return found.select_related("kept_by").order_by("page", "name", "pk")


class Kept(NamedTuple):
    """What a list's page shows of a list that is kept of it."""

    name: str
    page: str
    query: str
    owner_id: UUID | None  # none: the firm's


def list_kept(*, member: Member, page: str) -> list[Kept]:
    """List what `list_saved` has of one page, for every page that shows it: in plain SQL."""
    with connection.cursor() as cursor:
        cursor.execute(
            "select name, page, query, owner_id from tenancy_savedlist where firm_id = %s"
            " and page = %s and (owner_id = %s or owner_id is null) order by name, id",
            [member.firm_id, page, member.pk],
        )
        return [Kept(*row) for row in cursor.fetchall()]


def get_saved(*, member: Member, list_id: UUID) -> SavedList:
    """Get one saved list that a member may see."""
    return list_saved(member=member).get(pk=list_id)


def get_deed(*, firm_id: UUID, deed_id: UUID, kind: str) -> Deed:
    """Get what was done to several things at once."""
    return Deed.objects.select_related("done_by").get(firm_id=firm_id, pk=deed_id, kind=kind)


def list_deeds_of(*, member: Member) -> QuerySet[AuditLine]:
    """List what a member did, newest first."""
    return AuditLine.objects.filter(firm_id=member.firm_id, member=member).order_by("-at", "-pk")


def is_there(*, firm_id: UUID, subject: str, subject_id: UUID) -> bool:
    """Tell whether the firm has a thing, by the label of its rows: "register.building"."""
    return bool(apps.get_model(subject).objects.filter(firm_id=firm_id, pk=subject_id).exists())


def has_user(*, email: str) -> bool:
    """Tell whether somebody signs in with a mail address."""
    return User.objects.filter(email=email.strip().lower()).exists()


def map_languages(*, firm_id: UUID, addresses: Sequence[str]) -> dict[str, str]:
    """Tell of mail addresses which language each person has chosen; "" where none.

    Only of those with a seat in the firm: who is known to other firms is not to be learnt here.
    """
    found = dict.fromkeys(addresses, "")
    with connection.cursor() as cursor:
        cursor.execute(
            "select u.email, u.language from tenancy_user u"
            " where u.email = any(%s) and u.language <> ''"
            " and (exists (select from tenancy_member m"
            " where m.user_id = u.id and m.firm_id = %s and m.left_on is null)"
            " or exists (select from owners_ownerseat s"
            " where s.user_id = u.id and s.firm_id = %s and s.ended_at is null))",
            [list(addresses), firm_id, firm_id],
        )
        found.update(cursor.fetchall())
    return found


def find_user_id(*, email: str) -> UUID | None:
    """Find who signs in with a mail address."""
    return User.objects.filter(email=email.strip().lower()).values_list("pk", flat=True).first()
