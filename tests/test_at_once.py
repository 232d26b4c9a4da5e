"""Several who do the same thing at the same moment: one is right, the others are told so."""

import threading
import uuid
from datetime import timedelta

import pytest
from django.db import connection

from contractor.alarms import services as alarms
from contractor.alarms.models import UnwantedAlarm
from contractor.findings import services as findings
from contractor.findings.models import Finding
from contractor.people import services as people
from contractor.people.models import Invitation
from contractor.tenancy.scope import scope
from tests import factories
from tests.factories import NOON

pytestmark = pytest.mark.django_db(transaction=True, databases=["default", "owner"])
SO_MANY = 4


def at_once(firm, act):
    """Let so many do it together, each behind a connection of its own; list what was raised."""
    start, raised = threading.Barrier(SO_MANY), []

    def work():
        try:
            with scope(firm.pk):
                start.wait()
                act()
        except Exception as error:  # judged in the thread that can fail the test
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(SO_MANY)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


@pytest.fixture
def house():
    firm = factories.firm(slug="tarnbeck")
    with scope(firm.pk):
        building = factories.BuildingFactory(firm=firm)
        member = factories.MemberFactory(firm=firm, role="principal")
    return firm, building, member


def test_an_alarm_is_corrected_once(house):
    firm, building, member = house
    said = {"happened_at": NOON - timedelta(hours=2), "cause": "nuisance", "by_detector": True}
    with scope(firm.pk):
        alarm = alarms.record_alarm(building=building, member=member, now=NOON, **said)

    raised = at_once(
        firm,
        lambda: alarms.correct_alarm(alarm=alarm, reason="Hour", member=member, now=NOON, **said),
    )

    assert [type(one) for one in raised] == [alarms.UnableToRecord] * (SO_MANY - 1)
    with scope(firm.pk):
        assert UnwantedAlarm.objects.filter(firm=firm).count() == 2


def test_the_last_offer_of_a_seat_stands_alone(house):
    firm, _, member = house

    raised = at_once(
        firm,
        lambda: people.invite(
            firm_id=firm.pk,
            email="r@example.org",
            name="R.",
            role="office",
            member=member,
            now=NOON,
        ),
    )

    assert raised == []
    with scope(firm.pk):
        offers = Invitation.objects.filter(firm=firm)
        assert offers.count() == SO_MANY
        assert offers.filter(cancelled_at=None).count() == 1


def test_a_form_sent_several_times_at_once_is_one_finding(house):
    firm, building, member = house
    key, told = uuid.uuid4(), []

    raised = at_once(
        firm,
        lambda: told.append(
            findings.open_finding(
                building=building,
                severity="deficiency",
                title="Bracket loose",
                member=member,
                now=NOON,
                finding_id=key,
            ).pk
        ),
    )

    assert raised == []
    with scope(firm.pk):
        assert {one.pk for one in Finding.objects.filter(firm=firm)} == set(told)
    assert (len(told), len(set(told))) == (SO_MANY, 1)
