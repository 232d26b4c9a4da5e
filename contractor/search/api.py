"""Finding devices by words, for programs."""

from typing import Any

from contractor.programs.resource import Filter, Resource, operation
from contractor.register.api import DEVICE
from contractor.search import queries


class FoundDevices(Resource):
    """Devices by words."""

    group = "Devices"

    @operation(DEVICE, many=True, filters=(Filter("q", "Address or place.", example="2-114"),))
    def get(self, request: Any) -> Any:
        """Find devices by address, place, serial number and building, all on one page."""
        return self.whole(queries.find_devices(firm_id=self.firm_id, words=self.asked("q")))
