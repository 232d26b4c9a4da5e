"""Small print-outs, all invented, taken in and accepted."""

from datetime import date

import pytest

from contractor.readings import services
from contractor.readings.models import Intake, IntakeRow

HEAD = "address,label,kind,setting %/ft,drift %/ft\n"
GOOD = "1-001,Lobby,smoke,2.5,0.1\n1-002,Stair,smoke,2.5,0.2\n1-003,Store,smoke,2.5,0.9\n"
PRINTED = date(2026, 11, 20)


@pytest.fixture
def taken(building, system, office, now):
    def take(data: bytes | str, filename="list.csv") -> Intake:
        return services.take_in(
            building=building,
            system=system,
            filename=filename,
            data=data.encode() if isinstance(data, str) else data,
            member=office,
            now=now,
        )

    return take


@pytest.fixture
def accepted(taken, office, now):
    def accept(data, **more) -> Intake:
        said = {"taken_on": PRINTED, "is_test": True, "method": "control_unit"}
        return services.accept(intake=taken(data), member=office, now=now, **said | more)

    return accept


@pytest.fixture
def corrected(office, now):
    def correct(intake, number, **said) -> IntakeRow:
        row = IntakeRow.objects.get(intake=intake, number=number)
        return services.correct_row(intake=intake, row=row, said=said, member=office, now=now)

    return correct
