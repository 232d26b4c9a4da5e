"""Event logs: matched, kept once, decided by people. All invented."""

from datetime import UTC, datetime

import pytest

from contractor.readings import queries, services
from contractor.readings.models import Intake, IntakeRow, LogLine, Reading
from contractor.register.models import Device
from tests import factories

pytestmark = pytest.mark.django_db

LOG = """EVENT HISTORY   printed 24 Nov 2026 06:00

11/22/2026 03:14:07  ALARM       2-114   Kitchen corridor   SMOKE
11/22/2026 03:21:02  RESTORED    2-114   Kitchen corridor   SMOKE
11/22/2026 09:02:11  TROUBLE     1-008   Linen store        NO ANSWER
11/23/2026 17:44:30  MAINTENANCE 1-003   Riser 4            DIRTY
11/23/2026 18:00:00  AC POWER LOSS
11/24/2026 05:10:00  ALARM       2-114   Kitchen corridor   SMOKE
"""
KEPT = 5


@pytest.fixture
def detector(system, zone):
    return factories.DeviceFactory(system=system, area=zone, address="2-114")


@pytest.fixture
def log(taken, detector, office, now):
    intake = taken(LOG, "history.txt")
    return services.accept(intake=intake, member=office, now=now)


class TestDraft:
    def test_is_told_from_a_sensitivity_list(self, taken, detector):
        intake = taken(LOG, "history.txt")

        assert intake.kind == "event_log"
        assert not LogLine.objects.exists()

    def test_says_of_each_line_what_it_may_be(self, taken, detector):
        rows = IntakeRow.objects.filter(intake=taken(LOG)).order_by("number")

        assert [(row.outcome, row.differs[0]) for row in rows] == [
            ("new", "May be an unwanted alarm, or evidence of a test."),
            ("same", "Restored: shown, not kept."),
            ("new", "Trouble signal; may be evidence of a test. 1-008 is not on the device list."),
            ("new", "The control unit asks for cleaning. 1-003 is not on the device list."),
            ("new", "Trouble signal; may be evidence of a test."),
            ("new", "May be an unwanted alarm, or evidence of a test."),
        ]


class TestAccepted:
    def test_keeps_lines_at_the_buildings_clock(self, log, detector):
        first = LogLine.objects.order_by("at").first()

        assert LogLine.objects.count() == KEPT
        assert first.at == datetime(2026, 11, 22, 8, 14, 7, tzinfo=UTC)  # New York, in winter
        assert (first.device, first.event, first.state) == (detector, "alarm", "open")

    def test_adds_no_device_and_no_reading(self, log):
        assert Device.objects.count() == 1
        assert not Reading.objects.exists()

    def test_the_same_lines_in_the_next_log_are_kept_once(self, log, taken, office, now):
        longer = LOG + "11/25/2026 01:00:00  ALARM       2-114   Kitchen corridor   SMOKE\n"
        intake = taken(longer)
        outcomes = list(IntakeRow.objects.filter(intake=intake).values_list("outcome", flat=True))
        services.accept(intake=intake, member=office, now=now)

        assert outcomes.count("new") == 1
        assert LogLine.objects.count() == KEPT + 1

    def test_is_never_a_test(self, taken, detector, office, now):
        with pytest.raises(services.UnableToAccept, match="nothing that was tested"):
            services.accept(
                intake=taken(LOG), member=office, now=now, is_test=True, method="control_unit"
            )

    def test_open_alarms_are_listed_for_their_building(self, log, building):
        found = queries.list_open_lines(building=building, event="alarm")

        assert [line.address for line in found] == ["2-114", "2-114"]


class TestDecide:
    def test_a_line_is_decided_once(self, log, office, now):
        line = LogLine.objects.order_by("at").first()
        services.decide_line(line=line, state="aside", member=office, now=now)
        services.decide_line(line=line, state="aside", member=office, now=now)

        with pytest.raises(services.UnableToDecide, match="of no account already"):
            services.decide_line(line=line, state="alarm", member=office, now=now)

    def test_undo_drops_what_is_undecided_and_says_what_stays(self, log, office, now):
        line = LogLine.objects.order_by("at").first()
        services.decide_line(line=line, state="alarm", member=office, now=now)

        undone, stays = services.undo(intake=log, member=office, now=now)

        assert undone.state == "undone"
        assert stays == ["1 line stays: decided since."]
        assert list(LogLine.objects.all()) == [line]


def test_finds_addresses_without_a_letter(taken, system, zone, office, now):
    detector = factories.DeviceFactory(system=system, area=zone, address="1-026")
    lines = "2026-11-22 03:14:07  ALARM  1-026  Paint store 5\n2026-11-22 03:20:00  RESET\n"
    services.accept(intake=taken(lines), member=office, now=now)

    assert LogLine.objects.get().device == detector


@pytest.mark.parametrize(
    ("data", "kept"),
    [
        (
            "Fecha y hora;Suceso;Dirección;Ubicación\n"
            "22/11/2026 03:14;ALARMA;1-014;Cocina\n"
            "22/11/2026 03:20;Alarma normalizada;1-014;Cocina\n"
            "23/11/2026 08:00;Avería, sin respuesta;1-020;Pasillo\n"
            "23/11/2026 09:00;Mantenimiento: detector sucio;1-003;Almacén\n",
            ["alarm", "trouble", "maintenance"],
        ),
        (
            "Datum;Uhrzeit;Melder;Meldung\n"
            "22.11.2026;03:14:07;2/014;Feueralarm\n"
            "22.11.2026;03:20:00;2/014;Rückgestellt\n"
            "23.11.2026;08:00:10;1/020;Störung, keine Antwort\n"
            "23.11.2026;09:00:00;1/003;Melder verschmutzt\n",
            ["alarm", "trouble", "maintenance"],
        ),
        (
            "2026-11-22T03:14:07 panel1 FIRE node=2-114\n"
            "2026-11-22T03:21:09 panel1 RESET\n"
            "2026-11-22T09:02:11 panel1 FAULT node=1-008\n"
            "2026-11-23T17:44:30 panel1 DIRTY node=1-003\n",
            ["alarm", "trouble", "maintenance"],
        ),
        (
            "Date,Heure,Point,Évènement\n"
            "22/11/2026,03:14,B1-014,Alarme feu\n"
            "22/11/2026,03:20,B1-014,Retour à la normale\n"
            "23/11/2026,08:00,B1-020,Dérangement\n"
            "23/11/2026,09:00,B1-003,Détecteur encrassé\n",
            ["alarm", "trouble", "maintenance"],
        ),
    ],
    ids=["spanish", "german", "plain", "french"],
)
def test_reads_logs_of_several_shapes(taken, office, now, data, kept):
    intake: Intake = taken(data)
    services.accept(intake=intake, member=office, now=now)

    assert intake.kind == "event_log"
    assert list(LogLine.objects.order_by("at").values_list("event", flat=True)) == kept
