"""Tell what a visit has done, so that the next days count from it."""

from contractor.due.services import Performed
from contractor.visits import queries
from contractor.visits.models import Task, Visit


def list_performed(*, visit: Visit, gone_round: queries.Round) -> list[Performed]:
    """List the tasks that were done on a visit, each on its own day at the building.

    A task without a result was not done. Sensitivity is known by its readings.
    """
    found = []
    for place in gone_round.places:
        made = {str(entry.pk): entry.made_at for entry in place.standing}
        for task, state in place.state.tasks.items():
            if task == Task.SENSITIVITY or state.outcome not in ("pass", "fail"):
                continue
            days = [visit.building.day_at(made[head.id]) for head in state.shown if head.id in made]
            if days:
                found.append(Performed(place.device.pk, str(task), max(days), state.outcome))
    return found
