"""Instruments: when their calibration ends, and out of use."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.register import queries, services
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def tester(inside, firm):
    return factories.InstrumentFactory(firm=firm)


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


def address(name="instruments", **keys):
    return reverse(f"register:{name}", kwargs={"firm": "tarnbeck", **keys})


class TestInstruments:
    def test_the_next_calibration_comes_first(self, firm, tester):
        late = factories.InstrumentFactory(
            firm=firm, serial="X", calibration_ends_on=date(2020, 1, 1)
        )

        assert list(queries.list_all_instruments(firm_id=firm.pk)) == [late, tester]

    def test_a_calibration_that_is_over_is_said(self, desk, firm):
        factories.InstrumentFactory(firm=firm, calibration_ends_on=date(2020, 1, 1))

        assert "calibration over" in desk.get(address()).text

    def test_a_new_calibration_keeps_before_and_after(self, desk, tester):
        desk.post(
            address("change_instrument", instrument_id=tester.pk),
            {
                "name": tester.name,
                "serial": tester.serial,
                "calibrated_on": "2026-11-20",
                "calibration_ends_on": "2027-11-20",
            },
        )

        line = AuditLine.objects.get(subject_id=tester.pk)
        assert line.before["calibration_ends_on"] == "2027-01-15"
        assert line.after["calibration_ends_on"] == "2027-11-20"

    def test_a_calibration_that_ends_before_it_begins_is_refused(self, desk, tester):
        answer = desk.post(
            address("add_instrument"),
            {"name": "New", "calibrated_on": "2026-11-20", "calibration_ends_on": "2026-11-01"},
        )

        assert "Check the two days" in answer.text

    def test_out_of_use_it_is_offered_to_nobody_until_it_is_back(
        self, desk, tester, office, today, now
    ):
        with pytest.raises(services.UnableToChange, match="Say why"):
            services.retire_instrument(
                instrument=tester, on=today, reason=" ", member=office, now=now
            )
        desk.post(
            address("retire_instrument", instrument_id=tester.pk),
            {"on": "2026-11-24", "reason": "dropped"},
        )
        assert not queries.list_instruments(firm_id=tester.firm_id)
        assert "dropped" in desk.get(address()).text

        desk.post(address("return_instrument", instrument_id=tester.pk))
        assert list(queries.list_instruments(firm_id=tester.firm_id)) == [tester]
