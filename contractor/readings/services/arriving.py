"""Take in what arrives by itself: by mail, or with a system's key. It waits as a draft.

A mail never acts beyond that. Where the firm says so, a print-out of a known layout without any
problem becomes readings; never a test.
"""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from contractor.readings.models import (
    CameBy,
    Intake,
    IntakeAddress,
    IntakeKind,
    IntakeRow,
    IntakeState,
    RowOutcome,
)
from contractor.readings.services.accepting import accept
from contractor.readings.services.addresses import note_use
from contractor.readings.services.drafts import UnableToAccept, UnableToTakeIn
from contractor.readings.services.intakes import check_size, take_in
from contractor.tenancy import files
from contractor.tenancy.services import write_audit

MOST_ATTACHMENTS = 10
_ASKS_OF_CLEANING = "cleaned? A new run would begin"


@dataclass(frozen=True)
class Attachment:
    """A file that a mail brought."""

    filename: str
    data: bytes


@dataclass(frozen=True)
class Arrived:
    """A mail for one system, as far as it matters. `problem`: why none of it can be read."""

    message_id: str
    sender: str
    is_authentic: bool  # False: the mail server says that the sender is not who it says
    subject: str
    size: int
    attachments: tuple[Attachment, ...] = ()
    problem: str = ""


def knows_sender(*, address: IntakeAddress, sender: str) -> bool:
    """Tell whether a mail address is on the system's list, by itself or by its domain."""
    sender = sender.strip().lower()
    domain = "@" + sender.rpartition("@")[2]
    return bool(sender) and (sender in address.senders or domain in address.senders)


def take_mail(*, address: IntakeAddress, mail: Arrived, now: datetime) -> list[Intake]:
    """Take in every attachment of a mail, each once however often the mail is delivered."""
    known = mail.is_authentic and knows_sender(address=address, sender=mail.sender)
    note_use(address=address, now=now)
    if mail.problem:
        return [_refuse(address, mail, Attachment(mail.subject, b""), mail.problem, known, now)]
    taken = []
    for attachment in mail.attachments[:MOST_ATTACHMENTS]:
        if found := _find(address, mail, attachment):
            taken.append(found)
            continue
        try:
            with transaction.atomic():
                intake = take_in(
                    building=address.system.building,
                    system=address.system,
                    filename=attachment.filename,
                    data=attachment.data,
                    member=None,
                    now=now,
                    came_by=CameBy.MAIL,
                    sender=mail.sender[:254],
                    sender_is_known=known,
                    message_id=mail.message_id,
                )
        except UnableToTakeIn as error:
            taken.append(_refuse(address, mail, attachment, str(error), known, now))
        else:
            taken.append(accept_alone(intake=intake, address=address, now=now))
    return taken


def take_with_key(*, address: IntakeAddress, filename: str, data: bytes, now: datetime) -> Intake:
    """Take in a file that was handed over with a system's key.

    Raises
    ------
    UnableToTakeIn
        If it cannot be read; nothing is kept then, for the caller is told at once.
    """
    check_size(len(data))
    note_use(address=address, now=now)
    intake = take_in(
        building=address.system.building,
        system=address.system,
        filename=filename,
        data=data,
        member=None,
        now=now,
        came_by=CameBy.KEY,
    )
    return accept_alone(intake=intake, address=address, now=now)


def accept_alone(*, intake: Intake, address: IntakeAddress, now: datetime) -> Intake:
    """Accept a draft as readings, if the firm says so and nothing speaks against it."""
    if not address.accepts_alone:
        return intake
    because = _speaks_against(intake=intake)
    if not because:
        try:
            with transaction.atomic():
                return accept(intake=intake, member=None, now=now)
        except UnableToAccept as error:
            because = str(error)
    intake.waits_because = because[:200]
    intake.save(update_fields=["waits_because"])
    return intake


def _speaks_against(*, intake: Intake) -> str:
    """Say why a draft has to wait for a person; empty where nothing speaks against it."""
    if intake.kind != IntakeKind.SENSITIVITY:
        return f"It is a{'n' if intake.kind == IntakeKind.EVENT_LOG else ''} " + (
            f"{intake.get_kind_display()}; a person accepts it."
        )
    if intake.came_by == CameBy.MAIL and not intake.sender_is_known:
        return "The sender is not on this system’s list."
    if intake.problems:
        return f"{intake.problems[0]['sentence']}"
    accepted = Intake.objects.filter(
        firm_id=intake.firm_id,
        system=intake.system,
        state=IntakeState.ACCEPTED,
        layout_key=intake.layout_key,
    )
    if not accepted.exists():
        return "No print-out of this layout has been accepted for this system yet."
    rows = IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
    problems = rows.filter(outcome=RowOutcome.PROBLEM).count()
    if problems:
        return f"{problems} row{'s have' if problems > 1 else ' has'} a problem."
    new = rows.filter(outcome=RowOutcome.NEW).count()
    if new:
        return f"{new} row{'s are' if new > 1 else ' is'} not on the device list."
    changed = rows.filter(outcome=RowOutcome.CHANGED).values_list("differs", flat=True)
    if any(_ASKS_OF_CLEANING in sentence for differs in changed for sentence in differs):
        return "A drift has fallen: somebody must say whether the detector was cleaned."
    return ""


def _find(address: IntakeAddress, mail: Arrived, attachment: Attachment) -> Intake | None:
    """Find what this attachment of this mail has become already."""
    if not mail.message_id:
        return None
    sha256 = files.hash_of(attachment.data) if attachment.data else ""
    return Intake.objects.filter(
        firm_id=address.firm_id,
        system=address.system,
        message_id=mail.message_id,
        sha256=sha256,
    ).first()


def _refuse(
    address: IntakeAddress,
    mail: Arrived,
    attachment: Attachment,
    sentence: str,
    known: bool,
    now: datetime,
) -> Intake:
    """Keep what could not be read, with the sentence why: nothing that arrives is lost unseen."""
    if found := _find(address, mail, attachment):
        return found
    system = address.system
    data = attachment.data
    intake = Intake.objects.create(
        firm_id=address.firm_id,
        building=system.building,
        system=system,
        filename=attachment.filename[-200:] or "mail",
        sha256=files.keep(firm_id=address.firm_id, data=data) if data else "",
        size=len(data) or mail.size,
        state=IntakeState.REFUSED,
        problems=[{"kind": "file", "sentence": sentence}],
        received_at=now,
        came_by=CameBy.MAIL,
        sender=mail.sender[:254],
        sender_is_known=known,
        message_id=mail.message_id,
    )
    write_audit(
        member=None,
        actor=f"{mail.sender} by mail"[:160],
        action="intake.refused",
        subject=intake,
        summary=sentence,
        now=now,
    )
    return intake
