"""What each mail says: written once for each language among its receivers."""

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext

if TYPE_CHECKING:
    from contractor.field.unsent import Unsent
    from contractor.findings.models import Finding
    from contractor.people.models import Invitation, Licence
    from contractor.planning.models import Telling, VisitTime
    from contractor.readings.queries import Missed
    from contractor.schedule.queries import Booking
    from contractor.tenancy.models import FirmProfile
    from contractor.tenancy.nights import Night
    from contractor.visits.models import Visit

#: Stands in a mail's text where a link is put in when it is sent, and nowhere else.
LINK = "[the link stands in the mail alone]"


class Letter(NamedTuple):
    """What stands in a mail, in the language that is spoken as it is written."""

    subject: str
    body: str
    html: str = ""


def link_to(name: str, slug: str, **keys: object) -> str:
    """Give the whole address of a firm's page, as mails need it."""
    return settings.BASE_URL + reverse(name, kwargs={"firm": slug, **keys})


def visit(*, booking: "Booking", days: int, firm: "FirmProfile") -> Letter:
    """Tell a customer that we come."""
    said = {
        "building": booking.visit.building.name,
        "day": date_format(booking.visit.planned_on, "l j F"),
    }
    subject = gettext("We come to %(building)s on %(day)s")
    if days == 1:
        subject = gettext("We come to %(building)s tomorrow, %(day)s")
    told = {"booking": booking, "days": days, "firm": firm}
    return Letter(subject % said, render_to_string("notices/mail/visit.txt", told))


def before_work(
    *, visit: "Visit", telling: "Telling", time: "VisitTime | None", firm: "FirmProfile"
) -> Letter:
    """Tell somebody whom a building's file names that work begins."""
    subject = gettext("Work on the fire alarm of %(building)s on %(day)s") % {
        "building": visit.building.name,
        "day": date_format(visit.planned_on, "l j F"),
    }
    told = {"visit": visit, "telling": telling, "time": time, "firm": firm}
    return Letter(subject, render_to_string("notices/mail/before_work.txt", told))


def impairment(*, finding: "Finding", now: datetime, firm: "FirmProfile", slug: str) -> Letter:
    """Remind the office of protection that is out of service."""
    subject = gettext("Out of service: %(building)s, %(title)s") % {
        "building": finding.building.name,
        "title": finding.title,
    }
    told = {
        "finding": finding,
        "hours": round((now - finding.found_at) / timedelta(hours=1)),
        "firm": firm,
        "link": link_to("findings:finding", slug, finding_id=finding.pk),
    }
    return Letter(subject, render_to_string("notices/mail/impairment.txt", told))


def missed(*, missed: "Missed", today: date, firm: "FirmProfile", slug: str) -> Letter:
    """Tell the office that an expected print-out has not come."""
    subject = gettext("No print-out has come: %(building)s, %(system)s") % {
        "building": missed.building,
        "system": missed.system,
    }
    told = {
        "missed": missed,
        "firm": firm,
        "days": (today - missed.due_on).days,
        "ways": link_to("readings:by_itself", slug, system_id=missed.system_id),
        "take_in": link_to("readings:take_in", slug, building_id=missed.building_id),
    }
    return Letter(subject, render_to_string("notices/mail/missed.txt", told))


def invitation(*, invitation: "Invitation", firm: "FirmProfile") -> Letter:
    """Offer somebody a seat."""
    told = {"invitation": invitation, "firm": firm, "link": LINK}
    return Letter(
        gettext("A seat at %(firm)s") % {"firm": firm.name},
        render_to_string("notices/mail/invitation.txt", told),
    )


def licence(*, licence: "Licence", firm: "FirmProfile", slug: str) -> Letter:
    """Tell that a licence ends."""
    assert licence.ends_on is not None
    subject = gettext("%(name)s: %(licence)s ends on %(day)s") % {
        "name": licence.member.name if licence.member else firm.name,
        "licence": licence.kind,
        "day": date_format(licence.ends_on, "j F"),
    }
    told = {"licence": licence, "firm": firm, "link": link_to("people:list", slug)}
    return Letter(subject, render_to_string("notices/mail/licence.txt", told))


def night(*, night: "Night", firm: "FirmProfile", slug: str) -> Letter:
    """Tell the principals that a night did not run to its end."""
    subject = gettext("The night of %(day)s did not run to its end")
    told = {"night": night, "firm": firm, "link": link_to("people:nights", slug)}
    return Letter(
        subject % {"day": date_format(night.on, "j F")},
        render_to_string("notices/mail/night.txt", told),
    )


def unsent(*, unsent: "Unsent", firm: "FirmProfile", slug: str) -> Letter:
    """Tell of work that stays on a tablet."""
    holding = unsent.holding
    subject = gettext("Not all sent: %(building)s, %(tablet)s") % {
        "building": holding.visit.building.name,
        "tablet": holding.tablet.name,
    }
    told = {
        "unsent": unsent,
        "firm": firm,
        "link": link_to("tablets:of_visit", slug, visit_id=holding.visit_id),
    }
    return Letter(subject, render_to_string("notices/mail/unsent.txt", told))
