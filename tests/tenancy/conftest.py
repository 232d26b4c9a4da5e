"""What the tests of sign-in share."""

import pytest
from django.core.cache import cache

from contractor.tenancy.scope import scope
from tests import factories

PASSWORD = "heron-gate-lantern"


@pytest.fixture
def fresh_counts():
    """Begin and end without anybody being held up."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def seated(firm):
    """A member whose password is known."""
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, name="I. Tarrowby")
    member.user.set_password(PASSWORD)
    member.user.save()
    return member


@pytest.fixture
def person(seated):
    """Their account."""
    return seated.user
