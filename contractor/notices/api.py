"""The outbox of mails for programs."""

from typing import Any, ClassVar
from uuid import UUID

from contractor.notices import queries, services
from contractor.programs.resource import Filter, Resource, operation
from contractor.programs.shapes import Shape
from contractor.tenancy.permissions import Permission

NOTICE = Shape(
    "Notice",
    id="id",
    kind="text",
    object_id="id",
    recipient="text",
    name="text",
    subject="text",
    body="text",
    state="text",
    owed_at="instant",
    not_before="instant",
    sent_at="instant?",
    tries="whole",
    problem="text",
)


class _Notices(Resource):
    group = "Notices"
    refusals: ClassVar = (services.UnableToSend,)
    missing = queries.Missing

    def notice(self, notice_id: UUID) -> Any:
        """The notice of the address."""
        return self.get_or_404(queries.get_notice, notice_id=notice_id)


class Notices(_Notices):
    """The outbox."""

    @operation(
        NOTICE,
        Permission.MANAGE,
        many=True,
        filters=(
            Filter("state", "Only in one state.", tuple(value for value, _ in queries.STATES)),
            Filter("kind", "Only of one kind.", tuple(value for value, _ in queries.KINDS)),
        ),
    )
    def get(self, request: Any) -> Any:
        """List what mail was owed, and what became of it."""
        return self.page(
            queries.list_notices(
                firm_id=self.firm_id, state=self.asked("state"), kind=self.asked("kind")
            )
        )


class Notice(_Notices):
    """One notice."""

    @operation(NOTICE, Permission.MANAGE)
    def get(self, request: Any, notice_id: UUID) -> Any:
        """Show a notice."""
        return self.notice(notice_id)


class NoticeResent(_Notices):
    """A notice sent again."""

    @operation(NOTICE, Permission.MANAGE)
    def post(self, request: Any, notice_id: UUID) -> Any:
        """Send a notice again that failed, or of which it is not known."""
        return services.resend(notice=self.notice(notice_id), **self.now_and_member())


class NoticeSettled(_Notices):
    """A notice that arrived."""

    @operation(NOTICE, Permission.MANAGE, keys={"notice_id": "settled_id"})
    def post(self, request: Any, notice_id: UUID) -> Any:
        """Say that a notice of which it was not known did arrive."""
        return services.settle(notice=self.notice(notice_id), **self.now_and_member())
