"""Every word of another firm's is a canary; then everything that leaves the server is searched.

What is searched: each address as each of our own people, our API with our token, our tablet and
our owner; our PDFs, workbooks and archives, unpacked; our whole export; mails; every key and value
in the cache and in the broker, with what was queued for the other firm's deeds; the log.
"""

import base64
import io
import json
import logging
import uuid
import zipfile
from datetime import timedelta

import pypdfium2
import pytest
import redis
from django.apps import apps
from django.conf import settings as django_settings
from django.core import mail
from django.core.cache import cache
from django.db import DatabaseError, connection, models, transaction
from django.test import Client
from django.urls import reverse

from contractor.custody import services as custody
from contractor.field import services as field
from contractor.notices import composing
from contractor.notices import tasks as post
from contractor.notices.models import Notice
from contractor.owners.models import OwnedBuilding
from contractor.programs.examples import KEYS
from contractor.register import queries as register
from contractor.register import services as registering
from contractor.reports import services as reports
from contractor.reports import tasks as printing
from contractor.tenancy import files, wall
from contractor.tenancy.models import FirmModel
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON
from tests.programs import world
from tests.programs.conftest import described, make_program  # noqa: F401
from tests.programs.test_examples import address_of, operations
from tests.reports import flow
from tests.test_wall import (
    BEHIND_FIRM,
    BEHIND_OWNER,
    BEHIND_TABLET,
    CANARY,
    keys_of,
    theirs,  # noqa: F401  a fixture
)

#: Columns that the machine writes: keys, hashes, words out of a list of its own.
_OWN_WORDS = (
    *("sha256", "hash", "token", "prefix", "secret", "zone", "edition", "task", "component"),
    *("kind", "state", "subject", "action", "page", "unit", "paper", "stage", "result", "event"),
    *("basis", "key", "rule", "effect", "code", "stock", "frequency", "slug", "url", "query"),
    *("date_order", "form", "version", "layout", "principle", "monitoring", "role", "setting"),
    *("before", "chemistry", "verdict", "method", "recipient", "address_of", "occurrence", "epoch"),
)
#: Tables in which nobody writes words: numbers, days, keys.
WORDLESS = {
    "visits_visitdevice",
    "agreements_agreedbuilding",
    "owners_ownerseat",
    "owners_ownedbuilding",
    "custody_export",  # the file is marked
    "field_photo",  # the file is marked
}


def mark_every_word(firm_id) -> None:
    """Put the canary into each text of a firm's rows that may still be changed."""
    for model in apps.get_models():
        if not issubclass(model, FirmModel):
            continue
        for column in model._meta.concrete_fields:
            if (
                not isinstance(column, models.CharField | models.TextField)
                or column.choices
                or any(word in column.name for word in _OWN_WORDS)
                or (column.max_length or 99) < len(CANARY)
            ):
                continue
            try:
                with transaction.atomic(), connection.cursor() as cursor:
                    cursor.execute(
                        f'update "{model._meta.db_table}" set "{column.column}" ='
                        f' left(%s || "{column.column}", {column.max_length or 4000})'
                        f" where firm_id = %s and \"{column.column}\" not like '%%' || %s || '%%'",
                        [f"{CANARY} ", firm_id, CANARY],
                    )
            except DatabaseError:
                continue  # what was said stays said: its factory has written the canary


@pytest.fixture
def marked(other_firm, theirs):  # noqa: F811
    """The other firm's principal and keys, each of its words marked, and its files kept."""
    data = b"%PDF-1.7 " + CANARY.encode()
    with scope(other_firm.pk):
        sha256 = files.keep(firm_id=other_firm.pk, data=data)
        for name in ("reports.Report", "field.Photo", "custody.Export", "reports.OutlookPaper"):
            with transaction.atomic():
                try:
                    with transaction.atomic():
                        apps.get_model(name).objects.update(sha256=sha256)
                except DatabaseError:
                    continue
        mark_every_word(other_firm.pk)
    return theirs


@pytest.mark.django_db
def test_every_table_of_theirs_holds_the_canary(other_firm, marked):
    silent, filled = set(), 0
    with scope(other_firm.pk), connection.cursor() as cursor:
        cursor.execute(wall.TABLES)
        for table in [row[0] for row in cursor.fetchall() if row[1]]:
            cursor.execute(
                f'select count(*), count(*) filter (where t::text ilike %s) from "{table}" t'
                " where firm_id = %s",
                [f"%{CANARY}%", other_firm.pk],
            )
            rows, with_it = cursor.fetchone()
            filled += rows > 0
            if rows and not with_it:
                silent.add(table)
    assert silent <= WORDLESS, f"These hold words without a canary: {silent - WORDLESS}"
    assert filled > 40


def words_in(data: bytes) -> bytes:
    """Give all that a file says: archives and workbooks unpacked, PDFs read."""
    if data[:4] == b"PK\x03\x04":
        packed = zipfile.ZipFile(io.BytesIO(data))
        return b"".join(words_in(packed.read(name)) + name.encode() for name in packed.namelist())
    if data[:5] == b"%PDF-" and CANARY.encode() not in data:
        try:
            read = pypdfium2.PdfDocument(io.BytesIO(data))
            said = [page.get_textpage().get_text_range() for page in read]
            return data + "\n".join([*said, str(read.get_metadata_dict())]).encode()
        except pypdfium2.PdfiumError:
            return data  # an invented file of the tests
    return data


def in_valkey() -> dict[bytes, bytes]:
    """Read every key and value of the cache and of the broker, tasks' arguments decoded."""
    found: dict[bytes, bytes] = {}
    for address in {django_settings.CACHE_URL, django_settings.BROKER_URL}:
        client = redis.Redis.from_url(address.replace("redis+socket://", "unix://"))
        for name in client.scan_iter():
            read = {
                b"string": client.get,
                b"list": lambda key: b"\n".join(client.lrange(key, 0, -1)),  # noqa: B023
                b"hash": lambda key: repr(client.hgetall(key)).encode(),  # noqa: B023
                b"set": lambda key: repr(client.smembers(key)).encode(),  # noqa: B023
                b"zset": lambda key: repr(client.zrange(key, 0, -1)).encode(),  # noqa: B023
            }[client.type(name)]
            value = read(name) or b""
            for line in value.split(b"\n"):
                try:
                    value += base64.b64decode(json.loads(line)["body"])
                except (ValueError, KeyError, TypeError):
                    continue
            found[name] = value
    return found


class Searched:
    """Searches all that is given to it, and remembers what it found and how much there was."""

    def __init__(self):
        self.leaks, self.many, self.size = [], 0, 0

    def look(self, where, data) -> None:
        said = words_in(data if isinstance(data, bytes) else str(data).encode())
        self.many, self.size = self.many + 1, self.size + len(said)
        if CANARY.lower().encode() in said.lower():
            self.leaks.append(str(where))


def pages_of(slug, keys):
    for path, name, _ in BEHIND_FIRM:
        named = {key: keys.get(key, uuid.UUID(int=7)) for key in keys_of(path)}
        if "<slug:edition>" in path:
            named["edition"] = "nfpa72-2013"
        if "<str:subject>" in path:
            named |= {"subject": "register.building", "subject_id": keys["building_id"]}
        if not path.startswith("/api/"):
            yield reverse(name, kwargs={"firm": slug} | named)


@pytest.mark.django_db
def test_nothing_that_leaves_the_server_holds_their_words(
    firm, other_firm, marked, described, time_machine, caplog, tmp_path,  # noqa: F811
    django_capture_on_commit_callbacks,
):  # fmt: skip
    time_machine.move_to(NOON)
    caplog.set_level(logging.INFO)
    cache.clear()
    before = in_valkey()
    their_principal, their_keys = marked
    with scope(firm.pk):
        ours = world.build(firm)
        program = make_program(ours)
    found = Searched()

    # They work on the same server meanwhile: every page of theirs is read, and they write.
    them = Client(raise_request_exception=False)  # the record their factory sealed says nothing
    them.force_login(their_principal.user)
    shown = sum(
        CANARY.encode() in them.get(page).content for page in pages_of(other_firm.slug, their_keys)
    )
    assert shown > 60, "their own pages hardly show the canaries: this would prove nothing"
    with django_capture_on_commit_callbacks(execute=True), scope(other_firm.pk):
        customer = registering.add_customer(
            firm_id=other_firm.pk,
            facts=registering.CustomerFacts(f"{CANARY} Mills"),
            member=their_principal,
            now=NOON,
        )
        building = register.get_building(
            firm_id=other_firm.pk, building_id=their_keys["building_id"]
        )
        reports.queue_bundle(building=building, member=their_principal, now=NOON)
        assert customer.name.startswith(CANARY)

    # Each of our people, at each of our addresses, with our keys; then with theirs.
    with scope(firm.pk):
        technician = factories.MemberFactory(firm=firm, role="technician", name="L. Brae")
        building = register.get_building(firm_id=firm.pk, building_id=KEYS["building_id"])
        record = flow.sign_visit(
            building=building, office=ours, technician=technician, now=NOON + timedelta(minutes=1)
        )
        job = flow.job_of(record)
        seat = factories.OwnerSeatFactory(firm=firm)
        OwnedBuilding.objects.create(firm=firm, seat=seat, building=building)
        code, _ = field.make_code(name="Tablet 1", member=technician, now=NOON)
        tablet, key = field.enrol(code=code, member=technician, now=NOON)
    printing.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
    our_keys = KEYS | {"record_id": record.pk, "member_id": ours.pk}
    client = Client()
    client.force_login(ours.user)
    for page in pages_of(firm.slug, our_keys):
        answer = client.get(page)
        found.look(page, answer.getvalue())
        if b"as=xlsx" in answer.content:
            found.look(f"{page}?as=xlsx", client.get(f"{page}?as=xlsx").getvalue())
    client.force_login(technician.user)
    for page in pages_of(firm.slug, their_keys):
        found.look(page, client.get(page).getvalue())
    owner = Client()
    owner.force_login(seat.user)
    headers = {"X-Tablet": str(tablet.pk), "X-Tablet-Key": key}
    for keys in (our_keys, their_keys):
        for path, name, _ in (*BEHIND_OWNER, *BEHIND_TABLET):
            named = {key: keys.get(key, uuid.UUID(int=7)) for key in keys_of(path)}
            named |= {"sha256": "0" * 64} if "sha256" in path else {}
            address = reverse(name, kwargs={"firm": firm.slug} | named)
            who, more = (client, headers) if path.startswith("/field/") else (owner, {})
            found.look(address, who.get(address, headers=more).getvalue())
    for method, path, operation in operations(described):
        if method == "get":
            found.look(path, program.call(method, address_of(path, operation)).getvalue())

    # Papers and mails.
    with scope(firm.pk):
        report = reports_of(record)
        found.look("our report", files.fetch(firm_id=firm.pk, sha256=report.sha256))
        bundle = reports.make_bundle(building=building, now=NOON)
        found.look("our bundle", files.fetch(firm_id=firm.pk, sha256=bundle.sha256))
    archive = tmp_path / "ours.zip"
    custody.export_to(archive, firm_id=firm.pk, slug=firm.slug)
    found.look("our export", archive.read_bytes())
    with scope(firm.pk):
        Notice.objects.update(state="queued")
    for each in (firm, other_firm):
        with scope(each.pk):
            composing.compose(firm_id=each.pk, now=NOON)
        post.send(firm_id=str(each.pk))
    to_us = to_them = 0
    for message in mail.outbox:
        if their_principal.user.email in str(message.to) or "canary@example.org" in str(message.to):
            to_them += 1
        else:
            to_us += 1
            found.look(f"mail to {message.to}", message.message().as_bytes())
    assert to_us
    assert to_them

    # What lies between: cache and broker, with their queued work; the log.
    after = in_valkey()
    queued = [value for name, value in after.items() if before.get(name) != value]
    assert any(str(other_firm.pk).encode() in value for value in queued), "nothing was queued"
    for name, value in after.items():
        if before.get(name) != value:
            found.look(f"in Valkey: {name!r}", name + value)
    found.look("the log", caplog.text)
    assert str(other_firm.pk) in caplog.text or other_firm.slug in caplog.text

    assert found.leaks == []
    assert found.many > 400
    assert found.size > 3_000_000


def reports_of(record):
    """Give the report of a record."""
    from contractor.reports import queries

    return queries.find_report(record=record)
