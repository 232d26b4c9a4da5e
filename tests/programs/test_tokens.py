"""Tokens, their scopes and limits; calls that are repeated; what is refused."""

import re
from datetime import timedelta

import pytest
from django.core.cache import cache

from contractor.programs import queries, services
from contractor.programs.examples import key
from contractor.programs.models import KeptAnswer, Token
from contractor.register.models import Customer
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON
from tests.programs.conftest import Program, make_program

pytestmark = pytest.mark.django_db


@pytest.fixture
def principal(firm, time_machine):
    time_machine.move_to(NOON)
    cache.clear()
    with scope(firm.pk):
        factories.CustomerFactory(firm=firm)
        return factories.MemberFactory(firm=firm, role="principal")


@pytest.fixture
def program(principal):
    with scope(principal.firm_id):
        return make_program(principal)


class TestTokens:
    def test_only_the_hash_is_kept_and_making_and_revoking_are_on_record(self, principal):
        with scope(principal.firm_id):
            program = make_program(principal, scopes=["read"])
            token = Token.objects.get()
            assert program.token.startswith(token.prefix)
            assert program.token not in str(vars(token))
            assert program.call("get", "").status_code == 200
            services.revoke_token(token=token, member=principal, now=NOON)
            lines = tenancy.list_audit_lines(firm_id=principal.firm_id, subject_id=token.pk)
            assert {one.action for one in lines} == {"token.made", "token.revoked"}
        assert program.call("get", "").status_code == 401

    def test_a_token_does_what_it_and_its_maker_may_and_dies_with_the_seat(self, principal, today):
        with scope(principal.firm_id):
            reads = make_program(principal, scopes=["read"])
            writes = make_program(principal, scopes=["read", "manage"])
        new = {"name": "Brackwater Mills"}
        refused = reads.call("post", "customers/", new)
        assert refused.status_code == 403
        assert "manage" in refused.json()["detail"]
        assert writes.call("post", "customers/", new).status_code == 201
        with scope(principal.firm_id):
            type(principal).objects.filter(pk=principal.pk).update(role="technician")
        assert writes.call("post", "customers/", new).status_code == 403
        with scope(principal.firm_id):
            type(principal).objects.filter(pk=principal.pk).update(left_on=today)
        assert writes.call("get", "customers/").status_code == 401

    def test_no_token_of_another_firm_an_ended_one_or_none_opens(
        self, principal, program, other_firm, time_machine
    ):
        elsewhere = Program(program.token, other_firm.slug)
        nowhere = Program(program.token, "no-such-firm")
        answers = [one.call("get", "") for one in (elsewhere, nowhere, Program("drb_x"))]
        assert {one.status_code for one in answers} == {401}
        assert len({one.content for one in answers}) == 1
        assert answers[0].headers["WWW-Authenticate"] == "Bearer"
        time_machine.move_to(NOON + timedelta(days=31))
        assert program.call("get", "").status_code == 401

    def test_the_last_use_is_written_once_a_minute(self, principal, program, time_machine):
        def used():
            with scope(principal.firm_id):
                return queries.list_tokens(firm_id=principal.firm_id)[0].used_at

        program.call("get", "")
        first = used()
        program.call("get", "")
        assert used() == first
        time_machine.move_to(NOON + timedelta(minutes=2))
        program.call("get", "")
        assert used() > first

    def test_too_many_calls_wait(self, program, settings):
        settings.API_PER_MINUTE = 2
        assert [program.call("get", "").status_code for _ in range(3)] == [200, 200, 429]
        answer = program.call("get", "")
        assert 0 < int(answer.headers["Retry-After"]) <= 60
        assert answer.json()["code"] == "throttled"

    def test_the_page_shows_a_token_once(self, signed_in, principal, firm):
        client = signed_in(principal)
        address = f"/f/{firm.slug}/programs/"
        sent = {"name": "Weekly report", "scopes": ["read"], "ends_on": "2027-01-31"}
        page = client.post(address, sent)
        secret = page.context["secret"]
        assert secret in page.content.decode()
        assert secret not in client.get(address).content.decode()
        assert Program(secret).call("get", "customers/").status_code == 200
        too_far = client.post(address, sent | {"ends_on": "2029-01-31"})
        assert too_far.status_code == 422
        assert "within a year" in too_far.content.decode()

    def test_a_session_needs_its_csrf_token_to_write(self, principal, firm):
        from django.test import Client

        client = Client(enforce_csrf_checks=True)
        client.force_login(principal.user)
        address = f"/api/v1/f/{firm.slug}/customers/"
        assert client.get(address).status_code == 200
        more = {"content_type": "application/json"}
        assert client.post(address, {"name": "Brackwater"}, **more).status_code == 403
        client.get(f"/f/{firm.slug}/programs/")
        headers = {"X-CSRFToken": client.cookies["csrftoken"].value}
        made = client.post(address, {"name": "Brackwater"}, headers=headers, **more)
        assert made.status_code == 201


class TestOnce:
    def test_the_same_key_and_call_is_done_once(self, principal, program):
        new, key_ = {"name": "Brackwater Mills"}, {"Idempotency-Key": "order-17"}
        first = program.call("post", "customers/", new, **key_)
        again = program.call("post", "customers/", new, **key_)
        assert (first.status_code, again.status_code) == (201, 201)
        assert first.json() == again.json()
        assert again.headers["Idempotent-Replay"] == "true"
        with scope(principal.firm_id):
            assert Customer.objects.filter(name="Brackwater Mills").count() == 1

    def test_the_same_key_with_another_body_is_refused(self, program):
        key_ = {"Idempotency-Key": "order-17"}
        program.call("post", "customers/", {"name": "Brackwater Mills"}, **key_)
        other = program.call("post", "customers/", {"name": "Fennick Works"}, **key_)
        assert other.status_code == 422
        assert other.json()["code"] == "key_taken"

    def test_a_refused_call_is_judged_anew_and_a_day_later_the_key_is_free(
        self, principal, program, time_machine
    ):
        key_ = {"Idempotency-Key": "order-17"}
        assert program.call("post", "customers/", {}, **key_).status_code == 400
        assert program.call("post", "customers/", {"name": "One"}, **key_).status_code == 201
        time_machine.move_to(NOON + timedelta(hours=25))
        assert program.call("post", "customers/", {"name": "Two"}, **key_).status_code == 201
        with scope(principal.firm_id):
            assert KeptAnswer.objects.count() == 1
            assert services.sweep_answers(now=NOON + timedelta(hours=50)) == 1


class TestLists:
    def test_pages_hold_every_row_once_and_ask_no_more_of_many(
        self, principal, program, django_assert_max_num_queries
    ):
        with scope(principal.firm_id):
            for _ in range(30):
                factories.CustomerFactory(firm=principal.firm)
        seen, cursor, pages = [], "", 0
        while cursor is not None:
            with django_assert_max_num_queries(22):
                page = program.call("get", f"customers/?limit=7&cursor={cursor}").json()
            seen += [one["id"] for one in page["items"]]
            cursor, pages = page["next"], pages + 1
        assert (len(seen), len(set(seen)), pages) == (31, 31, 5)

    @pytest.mark.parametrize(
        ("query", "field"),
        [("limit=0", "limit"), ("limit=x", "limit"), ("cursor=1", "cursor"), ("q=%00", "q")],
    )
    def test_what_makes_no_sense_is_said(self, program, query, field):
        answer = program.call("get", f"customers/?{query}")
        assert answer.status_code == 400
        assert field in answer.json()["fields"]

    def test_problems_are_of_their_media_type(self, program):
        answer = program.call("get", f"customers/{key('building_id')}/")
        assert answer.status_code == 404
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert answer.json() == {
            "type": "about:blank",
            "title": "Not Found",
            "status": 404,
            "detail": "Not found.",
            "code": "not_found",
            "fields": {},
        }


def test_the_handbook_shows_every_operation_and_asks_nobody_else(client, described):
    page = client.get("/api/docs/").content.decode()
    for methods in described["paths"].values():
        for operation in methods.values():
            assert f'id="{operation["operationId"]}"' in page
    elsewhere = re.findall(r'(?:src|href|action)="(?:https?:)?//[^"]*"', page)
    assert elsewhere == []
    assert client.get("/api/v1/openapi.json").json()["openapi"].startswith("3.1")
