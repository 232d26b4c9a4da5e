"""Binding, printing and retiring codes on a real database."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.utils import ProgrammingError
from django.test.utils import CaptureQueriesContext

from contractor.engine import label_codes
from contractor.labels import queries, services
from contractor.labels.models import Binding, Label, PrintedLabel, PrintRun
from contractor.tenancy.keys import uuid7
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def devices(system, zone):
    return [
        factories.DeviceFactory(
            system=system, area=zone, address=f"2-{113 + number}", position=number
        )
        for number in range(3)
    ]


def laid_down(office, now, devices, **more):
    said = {"empty": 0, "stock": "a4-24", "first": 1, "reason": ""} | more
    return services.print_labels(
        firm_id=office.firm_id,
        building=devices[0].building if devices else None,
        devices=devices,
        member=office,
        now=now,
        **said,
    )


def taken(text, device, technician, now, replaces=()):
    key = uuid7()
    label = services.take_binding(
        text=text,
        device=device,
        replaces=replaces,
        reason="",
        binding_id=key,
        tablet="Tablet 1",
        member=technician,
        made_at=now,
        now=now,
    )
    return key, label


class TestPrint:
    def test_gives_each_device_a_code_and_keeps_it_when_printed_again(self, office, now, devices):
        first = laid_down(office, now, devices, empty=2)
        codes = [one.label.code for one in queries.list_printed(run=first)]

        assert all(label_codes.is_code(code) for code in codes)
        assert len(set(codes)) == 5
        assert first.count == 5
        assert queries.count_devices(building=devices[0].building).without == 0
        assert queries.count_free(firm_id=office.firm_id) == 2
        with pytest.raises(services.UnableToPrint, match="1 of these labels was printed before"):
            laid_down(office, now, devices[:1])
        second = laid_down(office, now, devices[:1], reason="torn off by painters")
        assert second.again == 1
        assert queries.list_printed(run=second)[0].label.code == codes[0]
        third = services.print_again(run=first, first=4, reason="jam", member=office, now=now)
        assert [one.label.code for one in queries.list_printed(run=third)] == codes
        assert list(queries.list_runs(firm_id=office.firm_id)) == [third, second, first]

    def test_asks_no_more_of_the_database_for_many(self, office, now, devices, system):
        more = [factories.DeviceFactory(system=system, address=f"9-{one}") for one in range(40)]
        with CaptureQueriesContext(connection) as few:
            laid_down(office, now, devices)
        with CaptureQueriesContext(connection) as many:
            laid_down(office, now, more)
        assert len(many) == len(few)

    def test_says_what_cannot_be(self, office, now, devices):
        for more, said in (
            ({"first": 25}, "has the places 1 to 24; 25 is none"),
            ({"stock": "x"}, "Choose the size"),
            ({"empty": 501}, "500 go into one run"),
        ):
            with pytest.raises(services.UnableToPrint, match=said):
                laid_down(office, now, devices, **more)
        with pytest.raises(services.UnableToPrint, match="Nothing is chosen"):
            laid_down(office, now, [])
        assert not PrintRun.objects.exists()
        assert not Label.objects.exists()


class TestBind:
    def test_takes_whatever_hangs_there_and_asks_why_it_moves(self, office, now, devices):
        label = services.bind(
            text=" SN 0042-A\n", device=devices[0], reason="", member=office, now=now
        )
        assert (label.code, label.is_ours, label.device) == ("SN 0042-A", False, devices[0])
        with pytest.raises(services.UnableToBind, match="hangs on 2-113 already"):
            services.bind(text="SN 0042-A", device=devices[0], reason="", member=office, now=now)
        with pytest.raises(services.UnableToBind, match=r"hangs on 2-113\. Say why"):
            services.bind(text="SN 0042-A", device=devices[1], reason="", member=office, now=now)

        services.bind(
            text="SN 0042-A", device=devices[1], reason="bases swapped", member=office, now=now
        )

        assert queries.list_labels_of(device=devices[0]) == []
        assert [one.code for one in queries.list_labels_of(device=devices[1])] == ["SN 0042-A"]
        said = [(one.device, one.reason) for one in queries.list_bindings(label=label)]
        assert said == [(devices[1], "bases swapped"), (devices[0], "")]
        assert queries.list_earlier_of(device=devices[0])[0].label == label

    def test_refuses_a_misread_code_of_ours(self, office, now, devices):
        with pytest.raises(services.UnableToBind, match="its last character does not fit"):
            services.bind(
                text="7Q2M-K4XD-9F35", device=devices[0], reason="", member=office, now=now
            )

    def test_never_gives_a_retired_code_to_anything(self, office, technician, now, devices):
        run = laid_down(office, now, devices[:1])
        label = queries.list_printed(run=run)[0].label
        with pytest.raises(services.UnableToBind, match="Say why"):
            services.retire(label=label, reason=" ", member=office, now=now)
        services.retire(label=label, reason="found on the floor", member=office, now=now)

        assert queries.list_labels_of(device=devices[0]) == []
        with pytest.raises(services.UnableToBind, match="taken out of use on 25 Nov 2026: found"):
            services.bind(text=label.code, device=devices[0], reason="x", member=office, now=now)
        with pytest.raises(services.UnableToBind, match="Put another label on"):
            taken(label.code, devices[1], technician, now)
        for wrong in (Label(code=label.code, is_ours=True), Label(code="n", retired_at=now)):
            wrong.firm_id, wrong.made_at = office.firm_id, now
            wrong.device = devices[0] if wrong.retired_at else None
            wrong.is_ours = True
            with pytest.raises(IntegrityError), transaction.atomic():
                wrong.save(force_insert=True)
        other = laid_down(office, now, devices[:1])
        assert queries.list_printed(run=other)[0].label.code != label.code

    def test_two_tablets_apart_are_both_shown_until_the_office_decides(
        self, office, technician, now, devices
    ):
        seen, label = taken("7Q2M-K4XD-9F34", devices[0], technician, now)
        assert label.device == devices[0]
        _, label = taken("HTTPS://HOST/D/7Q2MK4XD9F34", devices[1], technician, now)
        assert (label.device, label.is_disputed) == (None, True)
        assert queries.list_disputed(firm_id=office.firm_id) == [label]
        with pytest.raises(services.UnableToBind, match="Say why"):
            services.settle_dispute(
                label=label, device=devices[1], reason="", member=office, now=now
            )

        # One who had seen the first replaces only that one.
        _, label = taken(label.code, devices[2], technician, now, replaces=[str(seen)])
        assert label.is_disputed
        label = services.settle_dispute(
            label=label, device=devices[1], reason="looked", member=office, now=now
        )

        assert (label.device, label.is_disputed) == (devices[1], False)
        assert queries.list_disputed(firm_id=office.firm_id) == []
        assert Binding.objects.count() == 4

    def test_what_was_said_and_printed_stays(self, office, now, devices):
        laid_down(office, now, devices)
        for model in (Binding, PrintRun, PrintedLabel):
            with (
                pytest.raises(ProgrammingError, match="permission denied"),
                transaction.atomic(),
                connection.cursor() as cursor,
            ):
                cursor.execute(f"delete from {model._meta.db_table}")
