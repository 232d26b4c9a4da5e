"""Areas lie in one another: a wing on a floor. Where each lies, and all in walking order."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from contractor.register.models import Area


def path_of(areas: Mapping[UUID, Area], key: UUID | None) -> list[Area]:
    """Give an area after those around it, the largest first; one that holds itself ends there."""
    path: list[Area] = []
    while key is not None and areas[key] not in path:
        path.insert(0, areas[key])
        key = areas[key].parent_id
    return path


def place_in(path: Sequence[Area]) -> list[tuple[int, str]]:
    """Give what sorts areas by walking order, each with what lies in it."""
    return [(area.position, area.name) for area in path]


@dataclass(frozen=True)
class Place:
    """One area to choose, and where it lies."""

    area: Area
    name: str  # "Floor 2 / Wing B"

    @property
    def words(self) -> str:
        """Where it lies, and what is there."""
        return ", ".join(part for part in (self.name, self.area.description) if part)


def list_places_of(areas: Mapping[UUID, Area]) -> list[Place]:
    """List a building's areas in walking order, each named with those around it."""
    paths = sorted((path_of(areas, key) for key in areas), key=place_in)
    return [Place(path[-1], " / ".join(area.name for area in path)) for path in paths]
