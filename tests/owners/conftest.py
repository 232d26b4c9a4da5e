"""An owner of Quillmarsh House."""

import pytest

from tests import factories


@pytest.fixture
def seat(inside, firm, building):
    """M. Lund-Avery looks at Quillmarsh House."""
    seat = factories.OwnerSeatFactory(firm=firm, user=factories.UserFactory(name="M. Lund-Avery"))
    factories.OwnedBuildingFactory(seat=seat, building=building)
    return seat
