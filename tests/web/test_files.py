"""Static files are answered beside the pages, and no page pays for an event loop."""

import contextlib
from pathlib import Path

import pytest
from django.conf import settings as configured
from django.http import HttpResponse
from django.test import RequestFactory
from django.utils.module_loading import import_string

from contractor.web.files import StaticFiles

LOOK = "/static/web/charts.css"


@pytest.fixture
def serve(settings):
    settings.SERVESTATIC_USE_FINDERS = True
    settings.SERVESTATIC_USE_MANIFEST = False
    settings.SERVESTATIC_AUTOREFRESH = False
    middleware = StaticFiles(lambda request: HttpResponse("a page"))

    def serve(method, address, **headers):
        return middleware(RequestFactory().generic(method, address, headers=headers))

    return serve


def body(answer):
    with contextlib.closing(answer):
        return b"".join(answer)


@pytest.mark.django_db  # an answer that ends looks after the connections
class TestFiles:
    def test_are_given_whole_with_their_own_headers(self, serve):
        answer = serve("GET", LOOK)
        said = Path(configured.BASE_DIR, "static/web/charts.css").read_bytes()

        assert (answer.status_code, body(answer)) == (200, said)
        assert answer.headers["Content-Type"].startswith("text/css")
        assert answer.headers["Content-Length"] == str(len(said))
        assert "Access-Control-Allow-Origin" not in answer.headers

    def test_head_gives_no_content(self, serve):
        answer = serve("HEAD", LOOK)

        assert (answer.status_code, body(answer)) == (200, b"")
        assert int(answer.headers["Content-Length"]) > 0

    def test_not_sent_again_if_the_browser_has_it(self, serve):
        with contextlib.closing(serve("GET", LOOK)) as answer:
            changed = answer.headers["Last-Modified"]

        assert serve("GET", LOOK, if_modified_since=changed).status_code == 304

    def test_a_part_is_given_if_asked_for(self, serve):
        answer = serve("GET", LOOK, range="bytes=3-9")

        assert answer.status_code == 206
        assert body(answer) == body(serve("GET", LOOK))[3:10]

    def test_nothing_is_posted_to_them(self, serve):
        assert serve("POST", LOOK).status_code == 405

    @pytest.mark.parametrize("address", ["/", "/static/none.css", "/static/../manage.py"])
    def test_what_is_no_file_goes_on(self, serve, address):
        assert serve("GET", address).content == b"a page"


@pytest.mark.parametrize("name", configured.MIDDLEWARE)
def test_no_middleware_needs_an_event_loop(name):
    assert getattr(import_string(name), "sync_capable", True)
