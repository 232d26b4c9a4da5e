"""Licences and calibrations, checked when a visit is planned; told of before they end."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.notices import composing
from contractor.notices.models import Notice
from contractor.people import queries, services
from contractor.people.models import Licence
from tests import factories
from tests.conftest import NOON

PLACE = "Harrow County"


@pytest.fixture
def there(building):
    building.jurisdiction = PLACE
    building.save()
    return building


def licence(firm, of, ends_on=None, place=PLACE):
    return Licence.objects.create(
        firm=firm, member=of, kind="technician", number="T-1", jurisdiction=place, ends_on=ends_on
    )


def warn(building, on, *people, tasks=()):
    return queries.list_warnings(
        building=building, planned_on=on, member_ids=[one.pk for one in people], tasks=tasks
    )


class TestWarnings:
    def test_says_nothing_where_no_licence_names_the_place(self, firm, there, technician):
        licence(firm, technician, place="Elsewhere")
        assert warn(there, date(2026, 12, 1), technician) == []

    @pytest.mark.parametrize(("day", "many"), [(date(2026, 12, 1), 0), (date(2026, 12, 2), 1)])
    def test_holds_through_its_last_day(self, firm, there, technician, day, many):
        licence(firm, technician, ends_on=date(2026, 12, 1))

        found = warn(there, day, technician)

        assert len(found) == many
        assert all("ends on 1 Dec 2026, before this visit" in one for one in found)

    def test_names_who_lacks_it_and_takes_one_that_holds_everywhere(
        self, firm, there, technician, office
    ):
        licence(firm, technician)
        assert (
            "I. Tarrowby has no licence on file for Harrow County"
            in warn(there, date(2026, 12, 1), technician, office)[0]
        )

        licence(firm, office, place="")
        assert warn(there, date(2026, 12, 1), technician, office) == []

    def test_looks_at_the_firms_own(self, firm, there, technician):
        licence(firm, None, ends_on=date(2026, 11, 30))
        assert "The firm's own licence" in warn(there, date(2026, 12, 1), technician)[0]

    def test_looks_at_calibrations_where_sensitivity_is_tested(self, firm, there, technician):
        factories.InstrumentFactory(firm=firm, calibration_ends_on=date(2026, 12, 1))

        assert warn(there, date(2026, 12, 1), tasks=["sensitivity"]) == []
        assert warn(there, date(2026, 12, 2), tasks=["functional"]) == []
        assert (
            "No sensitivity tester is in calibration on 2 Dec 2026"
            in warn(there, date(2026, 12, 2), tasks=["sensitivity"])[0]
        )

    def test_asks_for_the_kind_that_the_tasks_need(self, firm, there):
        horn = factories.DeviceFactory(
            system=factories.SystemFactory(building=there), kind="audible", address="H1"
        )
        factories.InstrumentFactory(firm=firm, calibration_ends_on=date(2027, 12, 1))
        factories.InstrumentFactory(
            firm=firm,
            name="Meter",
            serial="SL-1",
            kind="sound",
            calibration_ends_on=date(2026, 12, 1),
        )

        assert warn(there, date(2026, 12, 1), tasks=["functional", "sensitivity"]) == []
        assert warn(there, date(2026, 12, 2), tasks=["sensitivity"]) == []
        assert warn(there, date(2026, 12, 2), tasks=["functional"]) == [
            "No sound level meter is in calibration on 2 Dec 2026: Meter ends 1 Dec 2026. Readings"
            " made with one would carry a calibration that is over."
        ]
        horn.kind = "smoke"
        horn.save()
        assert warn(there, date(2026, 12, 2), tasks=["functional"]) == []

    def test_a_meter_for_sound_does_not_test_sensitivity(self, firm, there):
        factories.InstrumentFactory(firm=firm, kind="sound")

        assert warn(there, date(2026, 12, 1), tasks=["sensitivity"]) == [
            "No sensitivity tester is in calibration on 1 Dec 2026: none is on file."
        ]

    def test_stands_on_the_page_that_plans(self, firm, there, technician, office, signed_in):
        factories.DeviceFactory(system=factories.SystemFactory(building=there))
        licence(firm, technician, ends_on=date(2026, 12, 1))
        address = reverse("visits:plan", kwargs={"firm": "tarnbeck", "building_id": there.pk})
        client = signed_in(office)
        form = client.get(address).context["form"]

        said = client.post(
            address,
            {
                "visit_id": form["visit_id"].initial,
                "planned_on": "2026-12-05",
                "tasks": ["functional"],
                "which": "all",
                "people": [str(technician.pk)],
            },
        ).content.decode()

        assert "before this visit. Renew it, or send somebody else." in said


def test_tells_sixty_and_fourteen_days_before_and_once_each(firm, technician, time_machine):
    factories.MemberFactory(firm=firm, role="principal")
    licence(firm, technician, ends_on=date(2026, 12, 5))  # ten days ahead
    licence(firm, None, ends_on=date(2027, 1, 20))  # eight weeks ahead
    licence(firm, technician, ends_on=date(2027, 3, 1), place="far")

    composing.compose(firm_id=firm.pk, now=NOON.replace(hour=15))
    composing.compose(firm_id=firm.pk, now=NOON.replace(hour=16))

    told = Notice.objects.filter(kind="licence").values_list("occurrence", flat=True)
    assert sorted(told) == ["2026-12-05 14", "2026-12-05 14", "2027-01-20 60"]


def test_keeps_one_and_not_twice(firm, technician, office):
    facts = services.LicenceFacts("technician", "T-9", PLACE, date(2027, 1, 1))
    said = {"firm_id": firm.pk, "of": technician, "member": office, "now": NOON}
    services.add_licence(facts=facts, **said)
    with pytest.raises(services.UnableToSeat, match="on file already"):
        services.add_licence(facts=facts, **said)
