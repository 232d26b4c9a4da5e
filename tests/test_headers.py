"""What every answer carries, on every address there is; and what is held back."""

import re

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from contractor.tenancy.scope import scope
from contractor.web import limits
from contractor.web.limits import Limit, wait
from tests import factories
from tests.conftest import NOON

#: What a browser may show in our own place; anything else has to be an attachment.
OURS = {
    "text/html", "application/json", "application/problem+json", "application/pdf", "text/css",
    "text/javascript", "application/javascript", "application/manifest+json", "image/svg+xml",
    "image/jpeg", "image/png", "text/plain", "text/vnd.yaml", "application/yaml",
    "application/vnd.oai.openapi", "application/vnd.oai.openapi+json",
}  # fmt: skip


def every_address(keys: dict[str, object]) -> list[str]:
    """List one address for each route of the resolver, libraries' own included."""

    def walk(patterns, prefix):
        for pattern in patterns:
            path = prefix + str(pattern.pattern)
            if isinstance(pattern, URLResolver):
                yield from walk(pattern.url_patterns, path)
            elif isinstance(pattern, URLPattern):
                yield path

    def fill(part: re.Match[str]) -> str:
        name = part[0].strip("<>").rpartition(":")[2]
        return str(keys.get(name, "tarnbeck" if name == "firm" else "x1"))

    found = []
    for path in walk(get_resolver().url_patterns, "/"):
        plain = re.sub(r"\(\?P<(\w+)>[^)]*\)", r"<\1>", path).replace("\\", "").strip("^$")
        plain = plain.replace("^", "").replace("$", "").replace("?", "")
        found.append(re.sub(r"<[^>]+>", fill, plain))
    return found


@pytest.fixture
def keys(firm):
    with scope(firm.pk):
        building = factories.BuildingFactory(firm=firm)
        system = factories.SystemFactory(building=building)
        member = factories.MemberFactory(firm=firm, role="principal")
        visit = factories.VisitFactory(building=building)
        device = factories.DeviceFactory(system=system)
        more = factories.everything_else(building=building, system=system, visit=visit, at=NOON)
    return member, {
        "building_id": building.pk, "system_id": system.pk, "visit_id": visit.pk,
        "device_id": device.pk, "product_id": device.product_id, "edition": "nfpa72-2013", **more,
    }  # fmt: skip


def check(answer, address: str, *, signed_in: bool) -> None:
    heads = answer.headers
    policy = heads["Content-Security-Policy"]
    assert "default-src 'none'" in policy, address
    assert "frame-ancestors 'none'" in policy, address
    # The tablet's shell decodes pictures of codes with WebAssembly; scripts it allows none.
    assert not re.search(
        r"unsafe-(inline|eval|hashes)|https?:|\*", policy.replace("'wasm-unsafe-eval'", "")
    ), address
    assert heads["X-Content-Type-Options"] == "nosniff", address
    assert heads["X-Frame-Options"] == "DENY", address
    assert heads["Referrer-Policy"] in ("same-origin", "no-referrer"), address
    assert heads["Cross-Origin-Opener-Policy"] == "same-origin", address
    assert heads["Strict-Transport-Security"].startswith("max-age=31536000"), address
    assert heads["X-Request-ID"], address
    kind = heads.get("Content-Type", "").partition(";")[0]
    if answer.content if not answer.streaming else kind:
        assert re.fullmatch(r"[a-z]+/[a-z0-9.+-]+", kind), (address, kind)
        if kind.startswith("text/"):
            assert "charset=utf-8" in heads["Content-Type"].lower(), (address, kind)
    if answer.status_code == 200 and kind not in OURS:
        assert heads["Content-Disposition"].startswith("attachment"), (address, kind)
    if signed_in and answer.status_code == 200 and kind == "text/html":
        text = answer.content.decode() if not answer.streaming else ""
        if "</footer>" in text:
            assert f'action="{reverse("account_logout")}"' in text, address
    if signed_in and answer.status_code == 200 and "public" in heads.get("Cache-Control", ""):
        raise AssertionError(f"{address} may be kept by a shared cache")
    for cookie in (one for one in answer.cookies.values() if one.value):  # not those it deletes
        assert cookie["secure"], (address, cookie)
        assert cookie["samesite"] in ("Lax", "Strict"), (address, cookie)
        assert cookie["httponly"] or cookie.key in ("csrftoken", "theme", "hand"), address


@pytest.mark.django_db
def test_every_route_carries_its_headers(keys, settings):
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.SECURE_HSTS_SECONDS = 31_536_000
    member, named = keys
    addresses = every_address(named)
    assert len(addresses) > 190
    stranger, person = Client(), Client(raise_request_exception=False)
    person.force_login(member.user)
    for address in addresses:
        check(stranger.get(address, secure=True), address, signed_in=False)
        check(person.get(address, secure=True), address, signed_in=True)


class TestBucket:
    @pytest.fixture(autouse=True)
    def _fresh(self):
        cache.clear()
        yield
        cache.clear()

    def test_it_holds_so_many_and_fills_evenly(self):
        limit = Limit(3, 3000)
        assert [wait("t", "a", limit) for _ in range(3)] == [0, 0, 0]
        assert 900 < wait("t", "a", limit) <= 1000
        assert wait("t", "b", limit) == 0

    def test_the_same_bucket_is_held_by_all_and_ends_by_itself(self):
        limit = Limit(1, 2)
        assert wait("t", "a", limit) == 0
        client = cache._cache.get_client(write=True)
        key = next(k for k in client.scan_iter("*limit:t:a*"))
        assert 0 < client.ttl(key) <= 3

    def test_without_the_cache_nobody_is_held_up(self, monkeypatch):
        monkeypatch.setattr(limits, "_TAKE", "no such language")
        assert wait("t", "a", Limit(1, 2)) == 0

    @pytest.mark.django_db
    def test_sign_in_says_how_long_to_wait(self, client, monkeypatch):
        route = ("sign-in", Limit(2, 6000), frozenset({"POST"}))
        monkeypatch.setitem(limits.BY_ROUTE, "account_login", route)
        answers = [
            client.post("/accounts/login/", {"login": "a@b.example", "password": "x"})
            for _ in range(3)
        ]
        assert [answer.status_code for answer in answers] == [200, 200, 429]
        assert 2900 < int(answers[2]["Retry-After"]) <= 3001
        assert b"nothing was changed" in answers[2].content
        # The same account from another address is held as well; reading the page is not.
        elsewhere = client.post(
            "/accounts/login/", {"login": "A@b.example"}, REMOTE_ADDR="203.0.113.5"
        )
        assert elsewhere.status_code == 429
        assert client.get("/accounts/login/").status_code == 200

    @pytest.mark.django_db
    def test_a_body_that_no_page_takes_is_refused_before_it_is_read(self, client, firm, settings):
        settings.UPLOAD_MAX_MB = 0
        with scope(firm.pk):
            member = factories.MemberFactory(firm=firm, role="office")
            building = factories.BuildingFactory(firm=firm)
        client.force_login(member.user)
        answer = client.post(
            reverse("readings:take_in", kwargs={"firm": firm.slug, "building_id": building.pk}),
            {"file": SimpleUploadedFile("a.csv", bytes(limits.FORM_BYTES + 1))},
        )
        assert answer.status_code == 413
        assert "at most 0 MB are taken" in answer.content.decode()

    @pytest.mark.django_db
    def test_a_file_with_a_limit_of_its_own_reaches_its_door(self, client, firm, settings):
        settings.UPLOAD_MAX_MB = 0
        with scope(firm.pk):
            member = factories.MemberFactory(firm=firm, role="office")
        client.force_login(member.user)
        answer = client.post(
            reverse("tablets:bring_in", kwargs={"firm": firm.slug}),
            {"file": SimpleUploadedFile("a.rescue.json", bytes(limits.FORM_BYTES + 1))},
        )
        assert answer.status_code == 200
        assert "This is no rescue file of a tablet." in answer.content.decode()

    def test_every_limited_route_is_there(self):
        from tests.test_wall import ROUTES

        names = {name for _, name, _ in ROUTES} | {"account_login", "account_reset_password"}
        names |= {"account_reset_password_from_key"}
        assert set(limits.BY_ROUTE) | limits.LARGER <= names


@pytest.mark.django_db
@pytest.mark.parametrize(
    "path", ["/accounts/login/", "/", "/verify/", "/f/tarnbeck/", "/api/v1/f/x/"]
)
def test_trace_gives_nothing_back(client, path):
    """ASVS 13.4.4: what a browser sent (cookies) never comes back in an answer."""
    answer = client.trace(path, headers={"X-Told": "heron-gate"})

    assert answer.status_code == 405
    assert b"heron-gate" not in answer.content


@pytest.mark.parametrize("path", ["/static/", "/static/web/", "/media/", "/files/"])
def test_no_folder_is_listed(client, path):
    assert client.get(path).status_code == 404
