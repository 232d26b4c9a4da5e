"""Invent what nights did and which mails went out, so that both pages are seen filled."""

from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID

from contractor.findings.models import Finding, Severity
from contractor.notices import bouncing, services
from contractor.notices.letters import Letter
from contractor.notices.models import Notice, NoticeKind
from contractor.notices.posting import Fate
from contractor.notices.services import Recipient
from contractor.readings.returned import Returned
from contractor.tenancy import nights
from contractor.tenancy.models import Firm, Member
from contractor.visits.models import Visit

#: How many nights back the scenario tells, and on which of them something went wrong.
NIGHTS, KILLED, FAILED = 9, 6, 4
_SENT = Fate("sent")


class ServerAway(Exception):
    """What an invented night met: the page shows its name."""


def write_nights(*, firm: Firm, now: datetime, dates: int, detectors: int) -> None:
    """Write the last nights: all ran, but one was killed half-way and one failed."""
    latest = 0 if now.astimezone(UTC).hour >= nights.OVER_AT.hour else 1
    for back in range(NIGHTS, latest - 1, -1):
        on = now.date() - timedelta(days=back)
        said = f"{dates:,} dates looked at, {back % 3} mended; 0 editions put into force;"
        said = f"{said} {back % 2} buildings renewed"
        _keep(firm, "due.night_of_firm", on, time(2, 10), 2.4 + back % 3, said)
        sweep, after = "drift.sweep_firm", time(2, 40)
        said = f"{detectors:,} detectors looked at, {3 + back % 4} forecasts changed"
        if back == KILLED:  # started again, it takes the same row
            _keep(firm, sweep, on, after, 1.0, "", ends=False)
            _keep(firm, sweep, on, time(2, 52), 4.1, said)
        elif back == FAILED:
            _keep(firm, sweep, on, after, 30.2, "", fails=True)
        else:
            _keep(firm, sweep, on, after, 3.3 + back % 2, said)


def _keep(
    firm: Firm,
    task: str,
    on: date,
    began: time,
    seconds: float,
    did: str,
    *,
    ends: bool = True,
    fails: bool = False,
) -> None:
    """Keep one nightly task as the night itself does, by a clock that shows that night."""
    start = datetime.combine(on, began, tzinfo=UTC)
    ticks = iter((start, start + timedelta(seconds=seconds)))
    keeping = nights.kept(firm_id=firm.pk, task=task, clock=lambda: next(ticks))
    doing = keeping.__enter__()
    if not ends:
        return
    doing.did = did
    if fails:
        error = ServerAway()
        try:
            keeping.__exit__(ServerAway, error, None)
        except ServerAway:
            return
    keeping.__exit__(None, None, None)


def send_mails(*, firm: Firm, office: Member, principal: Member, now: datetime) -> None:
    """Owe mails as the days did, and write down what became of each; one address is wrong."""
    for weeks in (2, 1):
        monday = now - timedelta(days=now.weekday(), weeks=weeks)
        day = datetime.combine(monday.date(), time(13, 0), tzinfo=UTC)
        _send(
            firm,
            kind=NoticeKind.WEEK,
            about=services.object_of_day(firm_id=firm.pk),
            occurrence=f"{day:%Y-%m-%d}",
            to=_of(office),
            subject="This week: what cannot wait, and what falls due",
            body="The week’s digest. Its figures stand on the start page.",
            at=day,
        )
    visit = Visit.objects.filter(state="planned").order_by("planned_on").first()
    if visit is not None:
        _tell_of_visit(firm, visit, now)
    finding = Finding.objects.filter(severity=Severity.IMPAIRMENT, back_at=None).first()
    if finding is not None:
        _send(
            firm,
            kind=NoticeKind.IMPAIRMENT,
            about=finding.pk,
            occurrence="found",
            to=_of(principal),
            subject=f"{finding.building.name}: {finding.title}",
            body="Protection is out of service. What is to be told to whom stands at the finding.",
            at=finding.found_at,
            fate=Fate("unknown", "The connection broke while it was sent: timed out"),
        )


def _tell_of_visit(firm: Firm, visit: Visit, now: datetime) -> None:
    """Tell the customer of a visit: one is told, one mail comes back, one is refused."""
    desk = Recipient("desk@saltgate.example", "the front desk")
    people = (
        (Recipient("facilities@saltgate.example", "the facilities desk"), _SENT),
        (desk, _SENT),
        (
            Recipient("keys@saltgate.example", "the gatehouse"),
            Fate("failed", "The mail server answered 550: no mailbox of that name"),
        ),
    )
    for to, fate in people:
        _send(
            firm,
            kind=NoticeKind.VISIT_COMING,
            about=visit.pk,
            occurrence=f"{visit.planned_on} week",
            to=to,
            subject=f"We come to {visit.building.name} on {visit.planned_on:%-d %b %Y}",
            body="Please have the keys at hand, and let your people know.",
            at=now - timedelta(hours=20),
            fate=fate,
        )
    gone = Notice.objects.get(recipient=desk.address)
    bouncing.mark_returned(
        gone,
        Returned(gone.message_id, desk.address, "5.1.1", "550 5.1.1 no such person here"),
        now - timedelta(hours=19),
    )


def _of(member: Member) -> Recipient:
    return Recipient(member.user.email, member.name)


def _send(
    firm: Firm,
    *,
    kind: str,
    about: UUID,
    occurrence: str,
    to: Recipient,
    subject: str,
    body: str,
    at: datetime,
    fate: Fate = _SENT,
) -> None:
    """Owe one mail, claim it and write down its fate, as the sender does; none leaves the house."""
    services.owe(
        firm_id=firm.pk,
        kind=kind,
        object_id=about,
        occurrence=occurrence,
        to=[to],
        write=lambda: Letter(f"{subject} (invented)", body),
        now=at,
    )
    claimed = services.claim(firm_id=firm.pk, now=at + timedelta(seconds=4))
    assert claimed is not None
    services.mark(notice=claimed, fate=fate, now=at + timedelta(seconds=6))
