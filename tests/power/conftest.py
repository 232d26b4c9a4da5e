"""A battery set of the building."""

import pytest

from tests import factories


@pytest.fixture
def battery(inside, system, zone):
    """The battery set in the control unit of Quillmarsh House; nobody has described it."""
    return factories.DeviceFactory(
        system=system, area=zone, kind="battery", product=None, address="B1", label="Control unit"
    )
