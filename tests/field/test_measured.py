"""Measurements from a tablet become typed rows, judged here, in review, record and report."""

from contractor.field import services
from contractor.field.models import Review
from contractor.findings.models import Finding
from contractor.power.models import BatteryTest
from contractor.visits import queries, record
from contractor.visits.models import Entry, Measurement
from tests import factories


def send(tablet, now):
    return services.take_in(tablet=tablet.row, sender=tablet.member, entries=tablet.made, now=now)


def measure(tablet, what, device=None, **said):
    return tablet.save("measured", device, body={"what": what, "said": said, "words": "as shown"})


def test_sound_and_pressure_are_judged_and_kept_as_numbers(tablet, visit, now):
    measure(tablet, "sound", where="Room 12, pillow", mode="sleeping", ambient="45", level="74,5")
    measure(tablet, "duct", where="D-4", value="0.02", low="0.01", high="1.11", unit="in. w.c.")
    measure(tablet, "battery", where="Booster 2", chemistry="vrla", volts="12", load_v="8.1")

    assert [one.answer for one in send(tablet, now)] == ["stored"] * 3

    sound, duct, battery = Measurement.objects.order_by("what").reverse()
    assert (sound.level_dba, sound.ambient_dba, sound.mode, sound.state) == (
        74.5,
        45.0,
        "sleeping",
        "fail",
    )
    assert sound.typed["level"] == "74,5"
    assert "75 dBA at least here: too quiet" in sound.reason
    assert (duct.value, duct.low, duct.high, duct.state) == (0.02, 0.01, 1.11, "pass")
    assert (battery.cells, battery.load_v, battery.state) == (6, 8.1, "fail")
    assert not Entry.objects.exists()  # no notes
    assert set(Finding.objects.values_list("title", flat=True)) == {
        "Sound level, Room 12, pillow",
        "Battery, Booster 2",
    }


def test_a_set_on_the_device_list_is_tested_by_the_rules_of_batteries(
    tablet, visit, system, zone, now
):
    device = factories.DeviceFactory(
        system=system, area=zone, kind="battery", address="BAT1", label="Panel", product=None,
        setting=None,
    )  # fmt: skip
    factories.VisitDeviceFactory(visit=visit, device=device)
    measure(tablet, "battery", device.pk, where="03/2024", capacity="78")

    assert [one.answer for one in send(tablet, now)] == ["stored"]

    test = BatteryTest.objects.get()
    assert (test.device, test.capacity_share, test.visit_id) == (device, 0.78, visit.pk)
    assert test.remark == "03/2024"
    assert not Measurement.objects.exists()


def test_what_cannot_be_is_looked_at(tablet, now):
    measure(tablet, "sound", where="Hall", level="740")

    assert [one.answer for one in send(tablet, now)] == ["review"]
    assert "740 dBA cannot be" in Review.objects.get().sentence


def test_the_record_holds_them_and_the_pages_show_them(tablet, visit, office, signed_in, firm, now):
    from django.template.loader import render_to_string

    measure(tablet, "sound", where="Hall, bay 4", mode="public", ambient="54", level="71")
    send(tablet, now)

    built = record.build(
        visit=visit,
        gone_round=queries.load_round(visit=visit),
        revision=1,
        reason="",
        member=office,
        now=now,
    )
    one = built["measurements"][0]
    assert one["figures"] == {"mode": "public", "level_dba": 71.0, "ambient_dba": 54.0}
    assert (one["place"], one["state"], one["by"]) == ("Hall, bay 4", "pass", "T. Varsk")
    paper = render_to_string("reports/paper/_closing.html", {"record": built})
    assert "Sound level, Hall, bay 4:" in paper
    client = signed_in(office)
    for page in ("", "review/"):
        text = client.get(f"/f/{firm.slug}/visits/{visit.pk}/{page}").content.decode()
        assert "71 dBA; 69 dBA at least here: loud enough." in text
