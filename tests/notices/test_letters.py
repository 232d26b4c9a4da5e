"""Each receiver's language: their own where they have a seat and chose one, else the firm's."""

from datetime import UTC, date, datetime

import pytest
from django.utils import translation

from contractor.notices import composing, services
from contractor.notices.letters import Letter
from contractor.notices.models import Notice
from contractor.tenancy.models import User
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db
#: Eight in the morning in New York, on a Monday.
MONDAY = datetime(2026, 11, 30, 13, 5, tzinfo=UTC)


def choose(seat, language):
    seat.user.language = language
    seat.user.save(update_fields=["language"])


def compose(firm, language):
    with translation.override(language):  # as the task does, in the firm's
        composing.compose(firm_id=firm.pk, now=MONDAY)


def test_a_member_is_written_to_in_the_language_they_chose(firm, building, office):
    choose(office, "de")
    other = factories.MemberFactory(firm=firm, role="principal", name="E. Quoyle")
    factories.FindingFactory(building=building, severity="impairment", title="Loop 2")

    compose(firm, "es")

    found = Notice.objects.filter(kind="impairment")
    theirs = {one.recipient: one for one in found}
    german, spanish = theirs[office.user.email], theirs[other.user.email]
    assert german.subject == "Außer Betrieb: Quillmarsh House, Loop 2"
    assert spanish.subject.startswith("Fuera de servicio: Quillmarsh House")
    assert "Stunden" in german.body
    assert "Stunden" not in spanish.body
    week = {one.recipient: one for one in Notice.objects.filter(kind="week")}
    assert week[office.user.email].html != week[other.user.email].html


def test_an_owner_with_a_seat_too_but_nobody_known_elsewhere_only(firm, building, inside):
    seat = factories.OwnerSeatFactory(firm=firm)
    choose(seat, "de")
    elsewhere = User.objects.create_user(email="m.lund-avery@example.org", language="fr-ca")
    factories.ContactFactory(customer=building.customer)  # the same address, no seat here
    factories.VisitFactory(building=building, planned_on=date(2026, 12, 7))

    compose(firm, "es")

    (mail,) = Notice.objects.filter(kind="visit_coming", recipient=elsewhere.email)
    assert "diciembre" in mail.body
    with translation.override("es"):
        services.owe(
            firm_id=firm.pk,
            kind="report_ready",
            object_id=building.pk,
            occurrence="x",
            to=[services.Recipient(seat.user.email)],
            write=lambda: Letter(translation.gettext("overdue"), ""),
            now=NOON,
        )
    assert Notice.objects.get(recipient=seat.user.email).subject == "überfällig"


def test_each_language_is_written_once_and_what_is_owed_already_not_again(firm, office):
    factories.MemberFactory(firm=firm, role="principal", name="E. Quoyle")
    written = []

    def write():
        written.append(translation.get_language())
        return Letter("Hello", "")

    to = [services.Recipient(f"{name}@example.org") for name in "abc"]
    to.append(services.Recipient(office.user.email))
    choose(office, "de")
    for _ in range(2):
        services.owe(
            firm_id=firm.pk,
            kind="week",
            object_id=firm.pk,
            occurrence="x",
            to=to,
            write=write,
            now=NOON,
        )
    assert sorted(written) == ["de", "en"]
    assert Notice.objects.count() == 4
