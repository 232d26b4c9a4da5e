"""What the day asks for: at eight in the morning of the building, and once."""

from datetime import UTC, date, datetime, timedelta

import pytest

from contractor.drift.models import DriftNotice
from contractor.due import services as due
from contractor.notices import composing, queries, services
from contractor.notices.models import Notice
from contractor.planning import queries as told
from contractor.planning import services as planning
from contractor.readings import services as readings
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db

# Monday 30 November 2026; the building stands in New York, five hours behind.
MONDAY = datetime(2026, 11, 30, 13, 5, tzinfo=UTC)
TOO_EARLY = MONDAY - timedelta(minutes=10)


def said(kind):
    return list(Notice.objects.filter(kind=kind).order_by("occurrence", "recipient"))


@pytest.fixture
def contact(building):
    return factories.ContactFactory(customer=building.customer)


class TestVisits:
    def test_a_week_before_and_the_day_before_at_eight_of_the_building(
        self, firm, building, contact
    ):
        visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, 7))
        composing.compose(firm_id=firm.pk, now=TOO_EARLY)
        assert said("visit_coming") == []
        composing.compose(firm_id=firm.pk, now=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(hours=1))
        (week,) = said("visit_coming")
        assert week.recipient == "m.lund-avery@example.org"
        assert "Monday 7 December" in week.subject
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=6))
        assert [n.occurrence for n in said("visit_coming")] == ["2026-12-07 eve", "2026-12-07 week"]
        assert {n.object_id for n in said("visit_coming")} == {visit.pk}

    def test_a_visit_that_moved_is_another_event(self, firm, building, contact):
        visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, 7))
        composing.compose(firm_id=firm.pk, now=MONDAY)
        visit.planned_on = date(2026, 12, 5)
        visit.save()
        composing.compose(firm_id=firm.pk, now=MONDAY)

        assert [n.occurrence[:10] for n in said("visit_coming")] == ["2026-12-05", "2026-12-07"]

    def test_who_is_told_before_work_as_well_gets_one_mail(
        self, firm, building, contact, office, now
    ):
        planning.add_telling(
            building=building,
            part="customer",
            name=contact.name,
            way="mail",
            to=contact.email.upper(),
            days_before=7,
            member=office,
            now=now,
        )
        visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, 7))
        composing.compose(firm_id=firm.pk, now=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY)
        (week,) = said("visit_coming")
        assert not told.list_told(visit=visit).exists()

        Notice.objects.filter(pk=week.pk).update(state="sent", sent_at=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(hours=1))

        assert len(said("visit_coming")) == 1
        assert told.list_told(visit=visit).get().spoken_with == contact.email

    def test_the_clocks_change_moves_nothing(self, firm, building, contact):
        # On 1 November 2026 New York goes back an hour: eight is then 13:00 UTC, no longer 12:00.
        factories.VisitFactory(building=building, planned_on=date(2026, 11, 5))
        composing.compose(firm_id=firm.pk, now=datetime(2026, 11, 1, 12, 30, tzinfo=UTC))
        assert said("visit_coming") == []
        composing.compose(firm_id=firm.pk, now=datetime(2026, 11, 1, 13, 0, tzinfo=UTC))
        assert len(said("visit_coming")) == 1


class TestImpairments:
    def test_each_morning_to_the_office_while_it_is_open(self, firm, building, office):
        finding = factories.FindingFactory(building=building, severity="impairment", found_at=NOON)
        for day in range(3):
            composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=day))
        assert len(said("impairment")) == 3
        assert "Out of service: Quillmarsh House" in said("impairment")[0].subject
        finding.corrected_on = date(2026, 12, 2)
        finding.save()
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=3))
        assert len(said("impairment")) == 3


class TestMissed:
    @pytest.fixture
    def weekly(self, system, office):
        return readings.set_ways(
            system=system, senders=[], accepts_alone=False, expected_days=7, member=office,
            now=MONDAY - timedelta(days=10), today=date(2026, 11, 20),
        )  # fmt: skip

    def test_once_to_the_office_in_the_morning_after_it_is_late(self, firm, weekly, office):
        # Expected on Friday the 27th; a day of grace; so it counts as missing from Sunday.
        for hours in (-48, -25, -24.1):
            composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(hours=hours))
        assert said("missed") == []
        for day in range(-1, 3):
            composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=day))

        (notice,) = said("missed")
        assert notice.recipient == office.user.email
        assert notice.subject == f"No print-out has come: Quillmarsh House, {weekly.system.name}"
        assert "expected on 27 November, 2 days ago" in notice.body
        assert "None has come so far; one is expected every 7 days." in notice.body
        assert f"/systems/{weekly.system_id}/by-itself/" in notice.body

    def test_again_only_after_one_has_come_and_the_next_is_missing(
        self, firm, building, weekly, office
    ):
        composing.compose(firm_id=firm.pk, now=MONDAY)
        readings.take_in(
            building=building, system=weekly.system, filename="a.csv",
            data=b"address,setting %/ft\n1-001,2.4\n1-002,2.4\n", member=office,
            now=MONDAY + timedelta(hours=2),
        )  # fmt: skip
        for day in range(1, 12):
            composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=day))

        assert [n.occurrence for n in said("missed")] == ["2026-11-27", "2026-12-07"]
        assert "The last one came on 30 November 2026" in said("missed")[1].body

    def test_not_to_whom_it_is_unwanted(self, firm, weekly, office):
        services.unsubscribe(firm_id=firm.pk, address=office.user.email, kind="missed", now=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY)

        assert [n.state for n in said("missed")] == ["unwanted"]


class TestWeek:
    def test_on_mondays_to_the_office_once(self, firm, building, detector, office, technician):
        due.refresh_building(building=building, today=date(2026, 11, 30))
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=1))
        assert said("week") == []
        composing.compose(firm_id=firm.pk, now=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(hours=5))

        (week,) = said("week")
        assert week.recipient == office.user.email
        assert "OVERDUE\n- Quillmarsh House: sensitivity test, 1 device" in week.body
        assert "<b>Quillmarsh House</b>" in week.html

    def test_daily_to_whom_asks_for_it_until_it_is_ended(
        self, firm, building, detector, office, technician
    ):
        due.refresh_building(building=building, today=date(2026, 11, 30))
        optional = [value for value, _ in queries.OPTIONAL]
        for member in (office, technician):  # the digest is the office's
            services.want(
                firm_id=firm.pk,
                address=member.user.email,
                kinds=["week", "day"],
                optional=optional,
                now=MONDAY,
            )
        for days in (0, 1, 1, 4, 5, 6):  # Monday has the week's; nothing comes on a Saturday
            composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=days))

        address = office.user.email
        assert [(one.recipient, one.occurrence) for one in said("day")] == [
            (address, "2026-12-01"),
            (address, "2026-12-04"),
        ]
        assert said("day")[0].subject.startswith("Today: 1 overdue")

        services.unsubscribe(firm_id=firm.pk, address=address, kind="day", now=MONDAY)
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=2))

        assert len(said("day")) == 2
        assert queries.list_wanted(firm_id=firm.pk, address=address) == {"week"}

    def test_nobody_has_it_daily_without_asking(self, firm, building, detector, office):
        due.refresh_building(building=building, today=date(2026, 11, 30))
        composing.compose(firm_id=firm.pk, now=MONDAY + timedelta(days=1))

        assert said("day") == []
        assert "day" not in queries.list_wanted(firm_id=firm.pk, address=office.user.email)

    def test_a_quiet_week_says_nothing(self, firm, inside, office):
        composing.compose(firm_id=firm.pk, now=MONDAY)

        assert said("week") == []

    def test_names_are_escaped_in_html_and_plain_in_text(self, firm, building, detector, office):
        building.name = "<b>Mill & Sons</b>"
        building.save()
        due.refresh_building(building=building, today=date(2026, 11, 30))
        composing.compose(firm_id=firm.pk, now=MONDAY)

        (week,) = said("week")
        assert "<b>Mill & Sons</b>" in week.body
        assert "&lt;b&gt;Mill &amp; Sons&lt;/b&gt;" in week.html

    def test_tells_what_came_near_its_limit_since_last_week(self, firm, building, detector, office):
        known = factories.DeviceFactory(system=detector.system)
        for on, device in ((date(2026, 11, 26), detector), (date(2026, 11, 10), known)):
            DriftNotice.objects.create(
                firm=firm,
                device=device,
                building=building,
                kind="nearing",
                since_on=on,
                chance=0.4,
            )
        composing.compose(firm_id=firm.pk, now=MONDAY)

        (week,) = said("week")
        assert f"Quillmarsh House: 1 detector, {detector.address}" in week.body
        assert "Newly near their limit" in week.html
