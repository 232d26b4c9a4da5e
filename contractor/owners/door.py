"""The owner's door: who is it, which firm, which buildings; then the view, inside the scope."""

import functools
from collections.abc import Callable
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from contractor.owners import queries
from contractor.owners.models import OwnerSeat
from contractor.register.models import Building
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, FirmProfile
from contractor.tenancy.scope import scope
from contractor.web.door import View, finished
from contractor.web.languages import speak_as_firm


class OwnerPermission(StrEnum):
    """What an owner may do; every seat may do all of it, and nothing else."""

    READ = "read"  # their own buildings
    RECORD_ALARMS = "record_alarms"  # write an unwanted alarm down
    SHARE = "share"  # give somebody without a seat a link to the proof
    DECIDE = "decide"  # say whether what is wrong is put right


class OwnerRequest(HttpRequest):
    """A request that has come through the owner's door."""

    firm: Firm
    profile: FirmProfile
    seat: OwnerSeat
    buildings: list[Building]


def owner_view(permission: OwnerPermission) -> Callable[[View], View]:
    """Put a view behind the owner's door; the URL gives the firm's slug as `firm`.

    A `building_id` in the URL reaches the view as `building`, and only if it belongs to the seat;
    such a page keeps the building's time, the others the firm's.
    A stranger's firm, an ended seat and another's building look alike: 404.
    """

    def decorate(view: View) -> View:
        @functools.wraps(view)
        def door(request: Any, firm: str, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            found = tenancy.find_firm(slug=firm)
            if found is None:
                raise Http404
            with scope(found.pk):
                seat = queries.find_seat(firm_id=found.pk, user_id=request.user.pk)
                if seat is None:
                    raise Http404
                request.firm, request.seat = found, seat
                request.profile = tenancy.get_profile(firm_id=found.pk)
                speak_as_firm(request)
                request.buildings = queries.list_buildings(seat=seat)
                zone = request.profile.time_zone
                if "building_id" in kwargs:
                    kwargs["building"] = _own(request.buildings, kwargs.pop("building_id"))
                    zone = kwargs["building"].time_zone
                with timezone.override(zone):
                    return finished(view(request, **kwargs))

        door.door = f"owner:{permission}"  # type: ignore[attr-defined]
        return door

    return decorate


def _own(buildings: list[Building], building_id: UUID) -> Building:
    found = next((one for one in buildings if one.pk == building_id), None)
    if found is None:
        raise Http404
    return found
