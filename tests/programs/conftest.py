"""The examples' firm, its token, and a client that comes with it."""

import json
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from contractor.programs import schema, services
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import scope
from tests.conftest import NOON
from tests.programs import world


class Program:
    """A program with a token."""

    def __init__(self, token: str, firm: str = "tarnbeck") -> None:
        self.client, self.token, self.base = Client(), token, f"/api/v1/f/{firm}/"

    def call(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        """Call one address below the firm's, or a whole one."""
        address = path if path.startswith("/") else self.base + path
        more = (
            {} if body is None else {"data": json.dumps(body), "content_type": "application/json"}
        )
        headers = {"Authorization": f"Bearer {self.token}"} | headers
        return self.client.generic(method.upper(), address, headers=headers, **more)


def make_program(member: Any, scopes: Any = tuple(Permission), **more: Any) -> Program:
    """Make a token; inside the member's scope."""
    now = more.pop("now", NOON)
    _, secret = services.make_token(
        name="bench",
        scopes=[str(one) for one in scopes],
        ends_at=now + timedelta(days=30),
        member=member,
        now=now,
    )
    return Program(secret, **more)


@pytest.fixture
def examples_firm(firm, time_machine):
    """The firm of the examples, at the moment of the examples."""
    time_machine.move_to(NOON)
    with scope(firm.pk):
        member = world.build(firm)
    return member


@pytest.fixture
def program(examples_firm):
    """A program that may do everything."""
    with scope(examples_firm.firm_id):
        return make_program(examples_firm)


@pytest.fixture
def described():
    """The API's description."""
    return schema.describe()
