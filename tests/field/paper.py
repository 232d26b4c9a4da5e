"""A tablet on paper: makes entries and keeps its outbox by the rules of docs/field.md.

It speaks to the services as the app speaks to the addresses. What it saved survives a crash; what
it was about to do does not.
"""

from datetime import UTC, datetime
from uuid import UUID

from contractor.engine.folding import Statement, fold, heads
from contractor.field import queries, services
from contractor.field.canonical import hash_entry
from contractor.tenancy.keys import uuid7

NOON_MS = int(datetime(2026, 11, 25, 12, 0, tzinfo=UTC).timestamp() * 1000)


class Lost(Exception):
    """The connection broke."""


class PaperTablet:
    """One tablet with one visit on it."""

    def __init__(self, row, member, visit):
        self.row, self.member, self.visit = row, member, visit
        self.made: list[dict] = []  # in the order saved; never changed
        self.acknowledged: dict[str, str] = {}  # entry id to answer
        self.others: dict[str, dict] = {}
        self.cursor, self.last, self.epoch = 0, "", None

    def save(self, kind, device=None, *, body=None, supersedes=(), photos=(), **more):
        """Save one entry, as pressing a button does."""
        entry = {
            "id": str(uuid7()),
            "seq": len(self.made) + 1,
            "prev": self.made[-1]["hash"] if self.made else "",
            "tablet": str(self.row.pk),
            "visit": str(self.visit.pk),
            "form": 1,
            "app": "paper",
            "author": str(self.member.pk),
            "device": str(device) if device else None,
            "kind": kind,
            "body": body or {},
            "supersedes": sorted(supersedes),
            "photos": list(photos),
            "evidence": {"how": "list"},
            "time": {"wall_ms": NOON_MS, "offset_min": -300},
            **more,
        }
        entry["hash"] = hash_entry(entry)
        self.made.append(entry)
        return entry

    # What the tablet sees

    def statements(self):
        """Give all that this tablet knows, its own and others'."""
        return [statement_of(one) for one in (*self.made, *self.others.values())]

    def standing(self, device, task, stage=""):
        """List what stands of one task on this tablet's screen."""
        return [
            str(one.id)
            for one in heads(statements=self.statements())
            if one.device == str(device)
            and one.task == task
            and one.result
            and (one.stage == "as_left") == (stage == "as_left")
        ]

    # Sync

    def announce(self, made, *, now):
        """Say hello: so many entries were made, whatever is here."""
        return services.greet(
            tablet=self.row,
            member=self.member,
            now=now,
            made=made,
            app_version="paper",
            is_protected=True,
            announced=[services.Announced(self.visit.pk, made, 0)],
        )

    def sync(self, now, *, most=50, order=None, lose=None):
        """Say hello, offer what is due, take in what others said. `lose` breaks a step."""
        lose = lose or (lambda step: None)
        lose("hello")
        ledger = self.announce(len(self.made), now=now)
        self.row.refresh_from_db(fields=["held"])
        knows = queries.knows_cursor(visit_id=self.visit.pk, cursor=self.cursor, last=self.last)
        lose("hello answer")
        if (
            (self.epoch is not None and self.epoch != ledger.epoch)
            or self.row.held < self._acknowledged_in_a_row()
            or not knows
        ):
            # The server was restored: offer everything that is still here.
            self.acknowledged.clear()
            self.cursor, self.last = 0, ""
        self.epoch = ledger.epoch
        due = [
            one
            for one in self.made
            # Beyond a gap, a restored server can have lost what it acknowledged unseen.
            if one["id"] not in self.acknowledged or one["seq"] > self.row.held
        ]
        if order:
            order(due)
        while due:
            batch, due = due[:most], due[most:]
            lose("request")
            answers = services.take_in(tablet=self.row, sender=self.member, entries=batch, now=now)
            lose("answer")
            for answer in answers:
                assert answer.answer in ("stored", "already", "review"), answer
                self.acknowledged[answer.entry_id] = answer.answer
        self.pull(lose)

    def pull(self, lose=lambda step: None):
        """Take in what others stated."""
        lose("pull")
        passed = queries.list_passed(
            visit=self.visit, tablet=self.row, after=self.cursor, online_known=0
        )
        lose("pull answer")
        for entry in passed.entries:
            self.others[entry["id"]] = entry
        self.cursor, self.last = passed.cursor, passed.last or self.last

    def _acknowledged_in_a_row(self):
        count = 0
        for entry in self.made:
            if entry["id"] not in self.acknowledged:
                break
            count += 1
        return count


VERDICTS = {"2.0": "pass", "2.6": "pass", "4.4": "fail"}


def statement_of(entry):
    """Give an entry as it is folded, for the few readings that tests type."""
    body, kind = entry["body"], entry["kind"]
    result, value = "", None
    if kind == "result":
        result = body["result"]
    elif kind == "not_tested":
        result = "not_tested"
    elif kind == "reading":
        result, value = VERDICTS[body["said"]["measured"]], float(body["said"]["measured"])
    return Statement(
        id=entry["id"],
        device=entry["device"],
        task=body.get("task", ""),
        result=result,
        stage=body.get("stage", ""),
        value=value,
        supersedes=frozenset(entry["supersedes"]),
    )


def folded(entries, asked):
    """Fold entries to what stands: outcome and ids, device by device and task by task."""
    states = fold(statements=[statement_of(one) for one in entries], asked=asked)
    return {
        device: {
            task: (one.outcome, sorted(str(head.id) for head in one.heads))
            for task, one in state.tasks.items()
        }
        for device, state in states.items()
    }


def server_state(visit):
    """Give what stands on the server in the same form."""
    from contractor.visits import queries as visits

    return {
        str(place.device.pk): {
            task: (one.outcome, sorted(str(head.id) for head in one.heads))
            for task, one in place.state.tasks.items()
        }
        for place in visits.load_round(visit=visit).places
    }


def stored_ids(visit):
    """List the entries of a visit on the server, each as often as it is there."""
    from contractor.visits.models import Entry

    return sorted(Entry.objects.filter(visit=visit).values_list("pk", flat=True))


def key(entry) -> UUID:
    """Give an entry's key."""
    return UUID(entry["id"])
