"""The end of a visit, for programs: hand in, review, sign off, amend."""

from typing import Any
from uuid import UUID

from rest_framework.exceptions import ValidationError

from contractor.programs.examples import key
from contractor.programs.resource import operation
from contractor.tenancy.permissions import Permission
from contractor.visits import forms, queries, services
from contractor.visits.api.shared import ENTRY, RECORD, REVIEW, VISIT, OneVisit


class HandedIn(OneVisit):
    """A visit handed in."""

    @operation(
        VISIT,
        Permission.RECORD_TESTS,
        takes=forms.HandIn,
        example={"notified_after": "Station 7, 15:40", "reason_for_rest": "no access"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Hand a visit in for review; what nobody touched gets the reason given here."""
        found = self.visit(visit_id)
        said = self.read(forms.HandIn).cleaned_data
        return services.hand_in(visit=found, **said, **self.now_and_member())


class Reviewed(OneVisit):
    """What a review shows."""

    @operation(REVIEW, Permission.SIGN_OFF, keys={"visit_id": "reviewed_id"})
    def get(self, request: Any, visit_id: UUID) -> Any:
        """Show what stands in the way of signing a visit off, and what is to be decided."""
        visit = self.visit(visit_id)
        gone_round = queries.load_round(visit=visit)
        return {
            "visit": visit,
            "counts": gone_round.counts,
            "verdicts": queries.count_verdicts(places=gone_round.places),
            "missing": services.what_is_missing(visit=visit, gone_round=gone_round)
            if visit.state == "to_review"
            else [],
            "conflicts": [
                {
                    "device_id": one.device.pk,
                    "task": one.task,
                    "words": one.words,
                    "entries": [entry.pk for entry in one.entries],
                }
                for one in queries.list_conflicts(places=gone_round.places)
            ],
        }


class Decision(OneVisit):
    """Which of several statements holds."""

    @operation(
        ENTRY,
        Permission.SIGN_OFF,
        takes=forms.Resolve,
        status=201,
        example={
            "task": "functional",
            "holds": key("first_entry_id"),
            "seen": f"{key('first_entry_id')} {key('second_entry_id')}",
            "reason": "The second tester stood at the panel.",
        },
        keys={"visit_id": "handed_in_id", "device_id": "device_id"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Decide which of several statements about a device holds; all stay on record."""
        visit, place = self.place(visit_id, device_id)
        said = self.read(forms.Resolve).cleaned_data
        if said["holds"] is None:
            raise ValidationError({"holds": ["Name the entry that holds."]})
        return services.resolve(
            visit=visit,
            device=place.device,
            task=said["task"],
            holds=said["holds"],
            reason=said["reason"],
            seen=said["seen"].split(),
            entry_id=said["entry_id"],
            **self.now_and_member(),
        )


class SentBack(OneVisit):
    """A visit sent back."""

    @operation(
        VISIT,
        Permission.SIGN_OFF,
        takes=forms.SendBack,
        example={"reason": "Zone 4 is missing."},
        keys={"visit_id": "reviewed_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Send a visit back to its technician."""
        found = self.visit(visit_id)
        reason = self.read(forms.SendBack).cleaned_data["reason"]
        return services.send_back(visit=found, reason=reason, **self.now_and_member())


class SignedOff(OneVisit):
    """A visit signed off."""

    @operation(RECORD, Permission.SIGN_OFF, status=201, keys={"visit_id": "reviewed_id"})
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Sign a visit off: the record is frozen and its report is made."""
        return services.sign_off(visit=self.visit(visit_id), **self.now_and_member())


class Records(OneVisit):
    """A visit's sealed revisions."""

    @operation(RECORD, many=True, keys={"visit_id": "signed_off_id"})
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List a visit's sealed revisions."""
        return self.page(queries.list_records(visit=self.visit(visit_id)))

    @operation(
        RECORD,
        Permission.SIGN_OFF,
        takes=forms.Amend,
        status=201,
        example={
            "revision": 1,
            "device": key("device_id"),
            "task": "functional",
            "result": "fail",
            "result_reason": "no alarm at the control unit",
            "reason": "The tester read the wrong line of the log.",
        },
        keys={"visit_id": "signed_off_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Amend a sealed record: the earlier revision stays, a new one is made."""
        visit = self.visit(visit_id)
        places = queries.load_round(visit=visit).places
        form = self.read(
            forms.Amend, devices=[(str(one.device.pk), one.device.address) for one in places]
        )
        said = form.cleaned_data
        return services.amend(
            visit=visit,
            reason=said["reason"],
            changes=[form.change()],
            revision=said["revision"],
            **self.now_and_member(),
        )
