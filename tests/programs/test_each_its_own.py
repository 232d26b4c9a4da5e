"""Two of each: what is asked of one token or hook never answers with the other's."""

import re
from datetime import timedelta
from itertools import product

import pytest
from django.core.cache import cache
from django.forms import JSONField

from contractor.api_urls import ADDRESSES
from contractor.programs import authentication, queries, services
from contractor.programs.examples import KEYS
from contractor.programs.models import Delivery, Hook, Token
from contractor.tenancy.keys import uuid7
from contractor.tenancy.leaving import Leaving
from contractor.tenancy.permissions import Permission
from contractor.web.limits import Limit
from tests.programs.conftest import Program

pytestmark = pytest.mark.django_db


def make_token(member, now, days=30):
    return services.make_token(
        name="bench", scopes=["read"], ends_at=now + timedelta(days=days), member=member, now=now
    )


def test_a_token_opens_while_it_and_its_maker_stand(firm, office, technician, now):
    made = [make_token(one, now) for one in (office, technician)]
    for token, secret in made:
        assert queries.find_token(secret=secret, now=now) == token
        assert queries.get_token(firm_id=firm.pk, token_id=token.pk) == token
        assert list(queries.list_tokens(firm_id=firm.pk, made_by=token.made_by)) == [token]
        assert queries.find_token(secret=secret, now=now + timedelta(days=31)) is None
    assert queries.list_tokens(firm_id=firm.pk).count() == 2
    (first, own), (second, other) = made
    services.revoke_token(token=first, member=office, now=now)
    assert queries.find_token(secret=own, now=now) is None
    assert queries.find_token(secret=other, now=now) == second
    technician.user.is_active = False
    technician.user.save()
    assert queries.find_token(secret=other, now=now) is None
    technician.user.is_active = True
    technician.user.save()
    technician.left_on = now.date()
    technician.save()
    assert queries.find_token(secret=other, now=now) is None
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.revoked_at, second.revoked_at) == (now, None)


def test_who_leaves_takes_only_their_own_tokens_along(office, technician, now):
    (first, _), (ended, _), (second, _) = (
        make_token(one, now) for one in (office, office, technician)
    )
    services.revoke_token(token=ended, member=office, now=now)
    later = now + timedelta(hours=1)

    assert len(services.tell_tokens(office)) == 1
    assert services.revoke_own(Leaving(member=office, heir=None, by=technician, now=later)) == 1

    ends = [Token.objects.get(pk=one.pk).revoked_at for one in (first, ended, second)]
    assert ends == [later, now, None]
    services.note_use(token_id=second.pk, now=later)
    used = [Token.objects.get(pk=one.pk).used_at is None for one in (first, second)]
    assert used == [True, False]


def test_hooks_and_what_is_owed_to_them(firm, office, now):
    hooks = [
        Hook.objects.create(
            firm=firm,
            url=f"https://{name}.example/",
            made_by=office,
            made_at=now - timedelta(hours=3 - place),
            ended_at=ended,
        )
        for place, (name, ended) in enumerate((("one", None), ("two", None), ("three", now)))
    ]
    owed = [
        Delivery.objects.create(
            firm=firm, hook=hook, event_id=uuid7(), event="a.b", body="{}", state=state,
            owed_at=now, next_at=now + timedelta(hours=1),
        )
        for hook in hooks
        for state in ("waiting", "sent")
    ]  # fmt: skip

    assert list(queries.list_hooks(firm_id=firm.pk)) == hooks[:2]
    for place, hook in enumerate(hooks[:2]):
        assert queries.get_hook(firm_id=firm.pk, hook_id=hook.pk) == hook
        mine = owed[2 * place : 2 * place + 2]
        assert set(queries.list_deliveries(hook=hook)) == set(mine)
        assert list(queries.list_deliveries(hook=hook, show="sent")) == mine[1:]
        for one in mine:
            assert queries.get_delivery(firm_id=firm.pk, delivery_id=one.pk) == one
    with pytest.raises(queries.Missing):
        queries.get_hook(firm_id=firm.pk, hook_id=hooks[2].pk)
    with pytest.raises(queries.Missing):
        queries.get_delivery(firm_id=firm.pk, delivery_id=owed[4].pk)


@pytest.mark.parametrize(
    ("turn", "state", "is_ended", "has"),
    [(0, "waiting", False, True), (1, "waiting", False, False), (0, "sent", False, False),
     (0, "waiting", True, False)],
)  # fmt: skip
def test_whose_turn_has_come(firm, office, now, turn, state, is_ended, has):
    hook = Hook.objects.create(
        firm=firm, url="https://one.example/", made_by=office, made_at=now,
        ended_at=now if is_ended else None,
    )  # fmt: skip
    Delivery.objects.create(
        firm=firm, hook=hook, event_id=uuid7(), event="a.b", body="{}", state=state, owed_at=now,
        next_at=now + timedelta(hours=turn),
    )  # fmt: skip

    assert queries.has_turns(now=now) is has


def test_a_token_reaches_no_further_than_its_maker(office, now):
    for scopes in ([], ["read", str(Permission.ADMINISTER)]):
        with pytest.raises(services.UnableToMake):
            services.make_token(
                name="x", scopes=scopes, ends_at=now + timedelta(days=3), member=office, now=now
            )
    for days in (0, -1, 367):
        with pytest.raises(services.UnableToMake):
            make_token(office, now, days=days)
    assert not Token.objects.exists()


def operations_with_a_shape_of_their_own():
    """List those that take an object which no form looks into: method, path, body, field."""
    for (address, resource), method in product(ADDRESSES.items(), ("post", "patch")):
        about = getattr(getattr(resource, method, None), "operation", None)
        if about is None or about.takes is None:
            continue
        for name, field in about.takes.base_fields.items():
            if isinstance(field, JSONField):
                path = re.sub(r"<uuid:(\w+)>", lambda found: str(KEYS[found[1]]), address)
                yield method, path, about.example, name


#: None of these is what any of them takes.
SHAPES = [
    ["address"], "address", 7, {"address": 7}, {"address": ["L1-001"]}, {"address": {"x": "y"}},
    {"address": None}, {"colour": "red"},
]  # fmt: skip


def test_an_object_of_another_shape_is_refused(program):
    """Not half taken in, and never an error of ours."""
    asked = list(operations_with_a_shape_of_their_own())
    assert len(asked) >= 3
    for method, path, body, name in asked:
        for said in SHAPES:
            answer = program.call(method, path, body | {name: said})
            assert answer.status_code == 400, (path, said, answer.content)
            assert name in answer.json()["fields"], (path, said, answer.content)


MEANINGS = f"print-outs/{KEYS['intake_id']}/meanings/"


@pytest.mark.parametrize(
    ("column", "status"),
    [
        ({"meaning": "drift", "unit": "%/ft"}, 200),
        ({"meaning": "label"}, 200),
        ({"unit": "%/ft"}, 200),
        ({"meaning": "colour"}, 400),
        ({"meaning": "50% drift"}, 400),
        ({"meaning": "drift", "unit": "furlong"}, 400),
        ({"meaning": "drift", "unit": "%(ft)s"}, 400),
        ({"meaning": "drift", "more": "x"}, 400),
        ("drift", 400),
    ],
)
def test_a_column_means_what_the_program_knows(program, column, status):
    answer = program.call("post", MEANINGS, {"columns": {"Drift %/ft": column}})

    assert answer.status_code == status, answer.content


def test_each_key_has_the_answer_of_its_own_call(program):
    def add(key, name):
        return program.call("post", "customers/", {"name": name}, **{"Idempotency-Key": key}).json()

    first = add("order-1", "Brackwater Mills")
    second = add("order-2", "Fennick Works")

    assert (first["name"], second["name"]) == ("Brackwater Mills", "Fennick Works")
    assert add("order-1", "Brackwater Mills") == first
    assert add("order-2", "Fennick Works") == second


@pytest.mark.parametrize("body", [[], ["name"], "name", 3, None])
def test_a_body_is_an_object(program, body):
    answer = program.call("post", "customers/", body)

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize(
    ("said", "status"), [({"label": "Kitchen"}, 200), ({"colour": "red"}, 400), ("x", 400)]
)
def test_of_a_row_is_said_what_the_page_says(program, said, status):
    row = f"print-outs/{KEYS['intake_id']}/rows/{KEYS['row_id']}/"

    assert program.call("patch", row, {"said": said}).status_code == status


@pytest.mark.parametrize("key", ["k" * 300, "k\u00e9y", "a\tb"])
def test_what_is_no_key_of_a_call_is_refused(program, key):
    answer = program.call("post", "customers/", {"name": "Fennick"}, **{"Idempotency-Key": key})

    assert answer.status_code == 400


def test_guessing_tokens_is_stopped_and_the_right_one_still_opens(program, monkeypatch):
    # As many, but given back so slowly that a slow machine gets none meanwhile.
    slowly = Limit(authentication.WRONG.many, 36_000)
    monkeypatch.setattr(authentication, "WRONG", slowly)
    cache.clear()
    wrong = Program("drb_wrong_token")
    said = [wrong.call("get", "customers/").status_code for _ in range(62)]

    assert said[:60] == [401] * 60
    assert said[-1] == 429
    assert program.call("get", "customers/").status_code == 200
    cache.clear()
