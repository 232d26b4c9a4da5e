"""Sign-ins that fail stand in the trail of the account's firms, without what was typed."""

import json
import logging

import pytest
from django.urls import reverse

from contractor.operations import knocking, tasks
from contractor.tenancy.models import AuditLine
from contractor.tenancy.scope import scope
from tests import factories
from tests.tenancy.conftest import PASSWORD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fresh_counts")]
TYPED = "typed-into-the-wrong-field"


@pytest.fixture
def queued(monkeypatch):
    """What is queued, done at once by the task itself."""
    found = []

    def send(name, kwargs):
        found.append(kwargs)
        assert name == tasks.note_sign_in.name
        tasks.note_sign_in(**json.loads(json.dumps(kwargs)))

    monkeypatch.setattr(knocking.app, "send_task", send)
    return found


def knock(client, login, address="203.0.113.9", password=TYPED):
    return client.post(
        reverse("account_login"), {"login": login, "password": password}, REMOTE_ADDR=address
    )


def lines(firm):
    with scope(firm.pk):
        return list(AuditLine.objects.filter(action="access.sign_in_failed"))


def test_a_failed_sign_in_is_written_down_with_its_address(client, seated, firm, queued, caplog):
    caplog.set_level(logging.INFO)
    knock(client, seated.user.email)
    (line,) = lines(firm)
    assert line.summary.endswith("from 203.0.113.9")
    assert line.actor == "somebody who is not signed in"
    assert line.subject_id == seated.pk
    assert TYPED not in str(vars(line)) + str(queued) + caplog.text
    assert "a sign-in failed, from 203.0.113.9" in caplog.text


def test_an_owners_account_is_the_firms_business_too(client, firm, queued):
    with scope(firm.pk):
        seat = factories.OwnerSeatFactory(firm=firm)
    knock(client, seat.user.email)
    assert [line.subject_id for line in lines(firm)] == [seat.pk]


def test_an_unknown_account_queues_the_same_and_writes_nothing(client, firm, queued):
    knock(client, f"{TYPED}@example.org")
    assert [set(one) for one in queued] == [{"user_id", "address"}]
    assert TYPED not in str(queued)
    assert lines(firm) == []


def test_one_that_fits_writes_nothing(client, seated, firm, queued):
    knock(client, seated.user.email, password=PASSWORD)
    assert queued == []
    assert lines(firm) == []


def test_nobody_fills_the_trail(rf, seated, firm, queued):
    """Six hundred guesses, from one address and from many, leave a few lines."""
    for number in range(300):
        request = rf.post("/", REMOTE_ADDR="203.0.113.9")
        knocking.note_password(None, {"email": f"a{number}@example.org"}, request)
    assert len(queued) <= knocking.KEPT_BY_ADDRESS.many + 1
    for number in range(300):
        request = rf.post("/", REMOTE_ADDR=f"198.51.100.{number % 250}")
        knocking.note_password(None, {"email": seated.user.email}, request)
    assert 0 < len(lines(firm)) <= knocking.KEPT.many + 1


def test_without_a_broker_the_answer_is_the_same(client, seated, monkeypatch):
    def away(name, kwargs):
        raise ConnectionError

    monkeypatch.setattr(knocking.app, "send_task", away)
    assert knock(client, seated.user.email).status_code == 200
