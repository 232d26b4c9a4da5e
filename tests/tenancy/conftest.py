"""What the tests of sign-in share."""

import pytest
from django.core.cache import cache


@pytest.fixture
def fresh_counts():
    """Begin and end without anybody being held up."""
    cache.clear()
    yield
    cache.clear()
