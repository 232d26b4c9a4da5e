"""What the office is asked, answered from real rows."""

import io
from datetime import UTC, date, datetime

import openpyxl
import pytest
from django.urls import reverse

from contractor.search import answers
from contractor.visits.models import Entry
from tests import factories
from tests.conftest import NOON


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


def test_tells_the_last_test_and_not_an_extra_reading(firm, inside, detector):
    factories.ReadingFactory(
        device=detector, taken_on=date(2025, 3, 10), typed={"drift": "0,2", "unit": "%/ft"}
    )
    test = factories.ReadingFactory(
        device=detector, taken_on=date(2026, 3, 11), typed={"drift": "0,3", "unit": "%/ft"}
    )
    factories.ReadingFactory(device=detector, taken_on=date(2026, 9, 1), is_test=False)
    factories.DueFactory(device=detector)

    (one,) = answers.list_last_tests(firm_id=firm.pk, devices=[detector])

    assert one.reading == test
    assert one.as_typed == "0,3 %/ft"
    assert one.functional_on == date(2026, 3, 11)


def _sensitivity(device, basis, *texts, **more):
    return factories.DueFactory(
        device=device,
        task="sensitivity",
        basis=basis,
        reasons=[
            {"on": f"20{20 + n}-03-11", "text": text, "kind": kind}
            for n, (kind, text) in enumerate(texts)
        ],
        **more,
    )


def test_tells_what_lost_the_extension_and_why(firm, inside, building, system, detector):
    second = factories.DeviceFactory(system=system, product=detector.product)
    young = factories.DeviceFactory(system=system, product=detector.product)
    kept = factories.DeviceFactory(system=system, product=detector.product)
    earned = ("test", answers.EARNED)
    _sensitivity(
        detector,
        "restart",
        earned,
        ("test", "Found out of range, left in range. The count of required tests starts here"),
        ("due", "Due 24 months after it."),
    )
    _sensitivity(
        second,
        "alternate_year",
        earned,
        ("due", "Due 24 months after 11 Mar 2020. No record of nuisance alarms is kept."),
    )
    _sensitivity(young, "alternate_year", ("test", "In range: required test 1."))
    _sensitivity(kept, "extended", earned, is_extended=True)

    rows = answers.list_lost_extensions(firm_id=firm.pk)

    failed, unrecorded = sorted(rows, key=lambda row: row.since_on is None)
    assert (failed.devices, failed.since_on) == ((detector.address,), date(2021, 3, 11))
    assert failed.why.startswith("Found out of range")
    assert (unrecorded.devices, unrecorded.since_on) == ((second.address,), None)
    assert unrecorded.why == "No record of nuisance alarms is kept."

    building.second_test_rule = "strict"  # two tests do not earn it then
    building.save()
    assert answers.list_lost_extensions(firm_id=firm.pk) == []
    building.second_test_rule = "code"
    building.use_extension = False
    building.save()
    assert answers.list_lost_extensions(firm_id=firm.pk) == []


@pytest.fixture
def not_tested(inside, office, detector, system, building):
    """Two devices not reached in March; one was tested in April. A third was reached after all."""
    visit = factories.VisitFactory(building=building, state="signed_off")
    later = factories.VisitFactory(building=building)
    others = [
        factories.DeviceFactory(system=system, product=detector.product, label=f"=place {n}")
        for n in range(2)
    ]

    def say(device, kind, month, on=visit, **more):
        moment = datetime(2026, month, 3, 12, tzinfo=UTC)
        return Entry.objects.create(
            firm_id=building.firm_id,
            visit=on,
            device=device,
            member=office,
            kind=kind,
            task="functional",
            made_at=moment,
            stored_at=NOON,
            **more,
        )

    say(detector, "not_tested", 3, reason="Room locked")
    say(others[0], "not_tested", 3, reason="Out of reach")
    say(others[0], "result", 4, on=later, result="pass")
    first = say(others[1], "not_tested", 3, reason="Room locked")
    say(others[1], "result", 3, result="pass", supersedes=[str(first.pk)])
    return others


def test_tells_what_was_not_reached_and_what_was_since(firm, detector, not_tested):
    rows = answers.list_not_reached(firm_id=firm.pk, year=2026)

    assert {(row.entry.device_id, row.since_on) for row in rows} == {
        (detector.pk, None),
        (not_tested[0].pk, date(2026, 4, 3)),
    }
    assert answers.list_not_reached(firm_id=firm.pk, year=2025) == []


@pytest.mark.parametrize(
    "name", ["search:answers", "search:tested", "search:products", "search:lost"]
)
def test_each_page_opens_empty_and_full(name, signed_in, office, firm):
    client = signed_in(office)
    assert client.get(at(name), {"q": "x"}).status_code == 200
    factories.DeviceFactory(
        system=factories.SystemFactory(building=factories.BuildingFactory(firm=firm))
    )
    assert client.get(at(name), {"q": "kitchen"}).status_code == 200


def test_a_list_comes_as_a_workbook_without_formulas(signed_in, office, not_tested):
    client = signed_in(office)
    address = at("search:not_reached")

    page = client.get(address, {"year": 2026, "show": "open"})
    book = client.get(address, {"year": 2026, "as": "xlsx"})
    text = client.get(address, {"year": 2026, "as": "csv"}).content.decode()

    assert "as=xlsx" in page.content.decode()
    sheet = openpyxl.load_workbook(io.BytesIO(book.content)).active
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert "=place 0" in [cell.value for cell in cells]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert [cell for cell in cells if cell.is_date]
    assert ",'=place 0," in text


def test_where_a_product_hangs(firm, inside, detector, building, signed_in, office):
    (product,) = answers.list_products_in_use(firm_id=firm.pk)
    (row,) = answers.list_buildings_with(firm_id=firm.pk, product_id=product.pk)

    assert (product.devices, product.buildings) == (1, 1)
    assert (row.name, row.devices, row.oldest_on) == (building.name, 1, date(2019, 3, 12))
    answer = signed_in(office).get(at("search:with_product", product_id=product.pk))
    assert building.name in answer.content.decode()
