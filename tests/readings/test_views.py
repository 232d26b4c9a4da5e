"""The pages of print-outs, as the office opens them. All files are invented."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from contractor.engine import layouts
from contractor.readings import queries, services
from contractor.readings.models import IntakeRow
from contractor.readings.views import intakes as views
from contractor.readings.views import wording
from contractor.register.models import Device
from tests import factories
from tests.readings.conftest import GOOD, HEAD

pytestmark = pytest.mark.django_db
BAD = "1-004,Hall,smoke,47,0.1\n"


@pytest.fixture
def page(signed_in, office, firm):
    """Give the address of a page of an intake, and a client who may open it."""
    client = signed_in(office)

    def page(name, intake, number=None):
        kwargs = {"firm": firm.slug, "intake_id": intake.pk}
        if number is not None:
            kwargs["row_id"] = IntakeRow.objects.get(intake=intake, number=number).pk
        return client, reverse(f"readings:{name}", kwargs=kwargs)

    return page


class TestIntake:
    def test_queries_do_not_grow_with_rows(self, taken, page, system, zone):
        def count(rows):
            for number in range(rows):
                address = f"1-{number:03d}"
                if not system.device_set.filter(address=address).exists():
                    factories.DeviceFactory(system=system, area=zone, address=address, label="Old")
            lines = "".join(f"1-{n:03d},Room {n},smoke,2.5,0.1\n" for n in range(rows))
            client, address = page("intake", taken(HEAD + lines))
            client.get(address)
            with CaptureQueriesContext(
                connection,
            ) as asked:
                assert client.get(address).status_code == 200
            return len(asked)

        assert count(4) == count(40)

    def test_draws_the_worst_of_each_few_rows_where_there_are_many(self):
        few = views._strokes(["same"] * 399 + ["problem"])
        many = views._strokes(["same"] * 400 + ["problem"])

        assert (few.each, len(few.states), few.states[-1]) == (1, 400, "problem")
        assert (many.each, len(many.states), many.states[-2:]) == (2, 201, ("same", "problem"))

    def test_a_row_left_out_is_not_counted_as_good(self, taken, corrected, page):
        intake = taken(HEAD + GOOD)
        corrected(intake, 2, leave_out="yes")
        client, address = page("intake", intake)

        assert client.get(address).context["good"] == 2

    def test_offers_what_can_be_decided_at_once(self, taken, page, system, zone):
        factories.DeviceFactory(
            system=system, area=zone, address="1-001", label="Old lobby", latest_drift=1.2,
            latest_limit=1.25,
        )  # fmt: skip
        intake = taken(HEAD + GOOD + BAD)
        rows = queries.list_rows(intake=intake)

        assert [[words for *_, words in services.list_choices(row=row)] for row in rows] == [
            ["Yes, cleaned", "Keep the old"],
            [],
            [],
            ["Leave it out"],
        ]

    def test_one_click_keeps_the_old_label(self, taken, page, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-001", label="Old lobby")
        intake = taken(HEAD + GOOD)
        client, address = page("row", intake, 1)
        answer = client.post(address, {"keep_label": "yes", "back": "?show=all"}, follow=True)

        assert answer.redirect_chain[0][0].endswith("?show=all#row-1")
        assert queries.list_outcomes(intake=intake) == ["same", "new", "new"]
        assert "Take the new" in answer.text


class TestAnswers:
    def test_the_rows_without_figures_are_what_is_answered(self, taken, page):
        intake = taken("address,setting %/ft\n1-001,2.5\n1-002,\n1-003,2.0\n")
        client, address = page("intake", intake)
        assert 'name="rest_kind"' in client.get(address).text

        client.post(page("meanings", intake)[1], {"rest_kind": "heat"})

        rows = IntakeRow.objects.order_by("number")
        assert [row.understood["kind"] for row in rows] == ["smoke", "heat", "smoke"]
        assert client.get(address).context["asked"] == []

    def test_where_only_the_unit_is_asked_the_meaning_is_chosen(self, taken, page):
        lines = "".join(
            f"R{n:02d};Rauch;{2 + n / 10:.1f};0,{n}\n".replace(".", ",") for n in range(9)
        )
        client, address = page("intake", taken(f"Adresse;Art;Schwelle;Drift\n{lines}"))
        shown = {one["header"]: one for one in client.get(address).context["columns"]}

        assert shown["Schwelle"]["is_taken"]
        assert shown["Schwelle"]["confidence"] < 75
        assert "%/m" in shown["Schwelle"]["units"]

    def test_every_meaning_has_words(self):
        assert tuple(wording.MEANINGS) == layouts.MEANINGS
        assert tuple(wording.REST_KINDS) == layouts.REST_KINDS

    def test_a_day_is_asked_where_a_reading_has_none(self, taken, page):
        client, without = page("intake", taken(HEAD + GOOD))
        _, dated = page("intake", taken("address,setting %/ft,date\n1-001,2.5,2026-11-20\n"))
        _, listed = page("intake", taken("address,label,kind\n1-001,Hall,smoke\n"))

        asks = [client.get(one).context["needs_day"] for one in (without, dated, listed)]

        assert asks == [True, False, False]


class TestUndo:
    def test_goes_on_saying_what_stays(self, accepted, page, building):
        intake = accepted(HEAD + GOOD)
        device = Device.objects.get(address="1-001")
        factories.FindingFactory(building=building, device=device)
        client, address = page("undo", intake)

        client.post(address)
        client.get(page("intake", intake)[1])

        shown = client.get(page("intake", intake)[1]).text
        assert "1-001 stays on the list: there are findings about it." in shown

    def test_is_offered_for_thirty_days(self, accepted, page):
        intake = accepted(HEAD + GOOD)
        client, address = page("intake", intake)
        offered = []
        for days in (29, 31):
            intake.accepted_at = timezone.now() - timedelta(days=days)
            intake.save(update_fields=["accepted_at"])
            offered.append("Undo this print-out" in client.get(address).text)

        assert offered == [True, False]


class TestRow:
    def test_opens_in_the_list_and_on_a_page_of_its_own(self, taken, page):
        client, address = page("row", taken(HEAD + GOOD + BAD), 4)

        fragment = client.get(address, headers={"HX-Request": "true"}).text
        assert fragment.startswith('<tr id="row-4">')
        assert "<html" in client.get(address).text

    def test_saving_the_form_as_it_is_changes_nothing(self, taken, page):
        intake = taken(HEAD + GOOD + BAD)
        client, address = page("row", intake, 4)
        fields = {one["name"]: one["value"] for one in client.get(address).context["fields"]}
        client.post(address, fields | {"leave_out": "no"})
        row = IntakeRow.objects.get(intake=intake, number=4)

        assert (row.corrected, row.outcome) == ({}, "problem")

    def test_gives_the_form_back_with_what_is_no_number(self, taken, page):
        client, address = page("row", taken(HEAD + GOOD + BAD), 4)
        said = {"setting": "1e3"}
        answer = client.post(address, said, headers={"HX-Request": "true"})

        assert answer.headers["HX-Retarget"] == "#row-4"
        assert "1e3 is not a number" in answer.text
        assert client.post(address, said).status_code == 422
