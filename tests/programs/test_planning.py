"""A program that plans a visit hears what the office would."""

from datetime import date

import pytest

from contractor.programs.examples import KEYS
from contractor.register.models import Instrument
from contractor.tenancy.scope import scope

pytestmark = pytest.mark.django_db


def test_a_visit_without_a_calibrated_instrument_is_refused_once(program, firm):
    with scope(firm.pk):
        Instrument.objects.update(calibration_ends_on=date(2026, 12, 1))
    path = f"buildings/{KEYS['building_id']}/visits/"
    asked = {"planned_on": "2026-12-15", "tasks": ["sensitivity"], "which": "all"}

    refused = program.call("post", path, asked)
    assert refused.status_code == 409, refused.content
    assert "No sensitivity tester is in calibration on 15 Dec 2026" in refused.json()["detail"]

    assert program.call("post", path, asked | {"accept_warnings": True}).status_code == 201
