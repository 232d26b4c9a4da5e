"""A database that speaks as the application's own role, and a cast of people."""

import os
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
from django.db import connection, connections
from django.test.utils import setup_databases
from hypothesis import settings as hypothesis_settings

from contractor.tenancy.scope import scope
from tests import factories

os.environ.setdefault("SECRET_KEY", "only for tests")
os.environ.setdefault("NIGHT_REST", "0")  # nobody waits for pages here

# How long one example takes says how busy the machine is, not whether the rule holds.
# In CI the examples are the same each time: a find belongs to the change that made it.
hypothesis_settings.register_profile(
    "unhurried", deadline=None, derandomize=os.environ.get("CI") == "true"
)
hypothesis_settings.load_profile("unhurried")


def pytest_configure() -> None:
    """Serve static files by their plain names, and keep files in a folder of the run's own."""
    from django.conf import settings

    plain = "django.contrib.staticfiles.storage.StaticFilesStorage"
    folder = tempfile.mkdtemp(prefix="files-of-tests-", dir=os.environ.get("DATA_DIR"))
    settings.STORAGES = {
        "default": {**settings.STORAGES["default"], "OPTIONS": {"location": f"{folder}/files"}},
        "staticfiles": {"BACKEND": plain},
    }
    settings.DATA_DIR = settings.STATIC_ROOT = folder
    settings.API_PER_MINUTE = 1_000_000  # the suite calls more often than any program
    # A name would be looked up first, which takes seconds where nobody answers.
    os.environ.setdefault("DJANGO_LIVE_TEST_SERVER_ADDRESS", "127.0.0.1")


NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
TODAY = date(2026, 11, 25)


@pytest.fixture(scope="session")
def django_db_setup(django_test_environment, django_db_blocker, django_db_createdb):
    """Make both aliases, always, and prove that the tests speak as the application's role.

    pytest-django makes only the aliases that the chosen tests name; and every test of the wall
    proves nothing as a superuser or owner.
    """
    with django_db_blocker.unblock():
        setup_databases(
            verbosity=0, interactive=False, serialized_aliases=[], keepdb=not django_db_createdb
        )
        with connection.cursor() as cursor:
            cursor.execute(
                "select current_database() like 'test%%', rolname, rolsuper or rolbypassrls,"
                " (select count(*) from pg_class where relowner = r.oid)"
                " from pg_roles r where rolname = current_user"
            )
            assert cursor.fetchone() == (True, "app", False, 0)
        with connections["owner"].cursor() as cursor:
            # Tests of whole transactions end with a flush, which this trigger would refuse.
            cursor.execute("alter table visits_sealedrecord disable trigger sealed_stays_there")
        connection.close()
        connections["owner"].close()
    yield
    connection.close_pool()


@pytest.fixture
def now() -> datetime:
    """The moment at which everything happens."""
    return NOON


@pytest.fixture
def today() -> date:
    """The day on which everything happens."""
    return TODAY


@pytest.fixture
def firm(db):
    """Our firm."""
    return factories.firm(slug="tarnbeck", name="Tarnbeck Alarm Service")


@pytest.fixture
def other_firm(db):
    """Another firm on the same server."""
    return factories.firm(slug="wexholt", name="Wexholt Fire Protection")


@pytest.fixture
def inside(firm) -> Iterator[None]:
    """Stand in our firm's scope."""
    with scope(firm.pk):
        yield


@pytest.fixture
def office(inside, firm):
    """I. Tarrowby plans, reviews and signs off."""
    return factories.MemberFactory(firm=firm, role="office", name="I. Tarrowby")


@pytest.fixture
def technician(inside, firm):
    """T. Varsk goes to the buildings."""
    return factories.MemberFactory(
        firm=firm, role="technician", name="T. Varsk", licence="TX-4471 (invented)"
    )


@pytest.fixture
def building(inside, firm):
    """Quillmarsh House."""
    return factories.BuildingFactory(firm=firm)


@pytest.fixture
def system(inside, building):
    """Its alarm system."""
    return factories.SystemFactory(building=building)


@pytest.fixture
def zone(inside, building):
    """Its zone 2."""
    return factories.AreaFactory(building=building)


@pytest.fixture
def detector(inside, system, zone):
    """Detector 2-114, marked 1.0 to 3.5 %/ft."""
    return factories.DeviceFactory(system=system, area=zone)


@pytest.fixture
def signed_in(client):
    """Sign a member's or an owner's user in: signed_in(member) answers the client."""

    def sign_in(seat):
        client.force_login(seat.user)
        return client

    return sign_in
