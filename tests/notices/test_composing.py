"""What the day asks for: at eight in the morning of the building, and once."""

from datetime import UTC, date, datetime, timedelta

import pytest

from contractor.drift.models import DriftNotice
from contractor.due import services as due
from contractor.notices import composing
from contractor.notices.models import Notice
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
