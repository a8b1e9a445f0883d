"""What every test shares: which database, which browser, how patient the random tests are."""

import hashlib
import os
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

import django
import pytest
from django.conf import settings
from django.db import connection
from django.test import TransactionTestCase
from hypothesis import settings as hypothesis_settings
from pytest_django import DjangoDbBlocker

# The browser's driver runs an event loop in the test's own thread, where Django would refuse the database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

hypothesis_settings.register_profile("verglas", max_examples=100, deadline=None, print_blob=True)
hypothesis_settings.load_profile("verglas")

APPS = ("fleet", "scheduling", "records")
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server", "admin_client"}
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Marks by folder and by what drives a browser, and keeps for PostgreSQL what can differ there."""
    for item in items:
        if "browser" in item.path.parts or "browser" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)
        if "benchmarks" in item.path.parts:
            item.add_marker(pytest.mark.serial)
    chosen = [item for item in items if fits_database(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(chosen)])
    items[:] = chosen


def pytest_unconfigure() -> None:
    """Parallel workers end without the interpreter's own tidying up."""
    shutil.rmtree(settings.SCRATCH, ignore_errors=True)


def fits_database(item: pytest.Item) -> bool:
    """On SQLite everything but what only makes sense on PostgreSQL; there, what touches the database."""
    only_postgres = item.get_closest_marker("postgres") is not None
    if not settings.DATABASES["default"]["ENGINE"].endswith("postgresql"):
        return not only_postgres
    touches = item.get_closest_marker("django_db") is not None or bool(
        DATABASE_FIXTURES.intersection(getattr(item, "fixturenames", ()))
    )
    return only_postgres or (touches and item.get_closest_marker("browser") is None)


def on_sqlite() -> bool:
    return settings.DATABASES["default"]["ENGINE"].endswith("sqlite3")


def empty_database(cache: pytest.Cache) -> Path:
    """Where the migrated, empty SQLite file for the present migrations is kept between test runs."""
    files = sorted(path for app in APPS for path in (settings.ROOT / app).rglob("migrations/*.py"))
    files.append(settings.ROOT / "fleet" / "common" / "guards.py")
    words = hashlib.sha256(django.get_version().encode())
    for path in files:
        words.update(path.read_bytes())
    return Path(cache.mkdir("databases")) / f"{words.hexdigest()[:20]}.sqlite3"


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """SQLite starts from the kept empty file; migrating it again finds nothing to do."""
    return on_sqlite()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, pytestconfig: pytest.Config
) -> None:
    """Migrating takes seconds, copying does not."""
    kept = empty_database(pytestconfig.cache)
    if on_sqlite() and kept.is_file():
        shutil.copy(kept, settings.DATABASES["default"]["TEST"]["NAME"])


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, pytestconfig: pytest.Config
) -> None:
    """Keeps the freshly migrated file for the next run."""
    kept = empty_database(pytestconfig.cache)
    if not on_sqlite() or kept.is_file():
        return
    making = kept.with_suffix(f".{os.getpid()}")
    making.unlink(missing_ok=True)
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(making)])
    for old in kept.parent.glob("*.sqlite3"):
        old.unlink(missing_ok=True)
    making.replace(kept)


@pytest.fixture(scope="session", autouse=True)
def guards_are_lifted_to_empty_the_tables() -> Iterator[None]:
    """Tests with a live server empty the tables afterwards, which the guards of SQLite would refuse."""
    emptying = TransactionTestCase._fixture_teardown

    def without_guards(case: TransactionTestCase) -> None:
        if connection.vendor != "sqlite":
            emptying(case)
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            guards = cursor.fetchall()
            for name, _ in guards:
                cursor.execute(f"DROP TRIGGER {name}")
        emptying(case)
        with connection.cursor() as cursor:
            for _, statement in guards:
                cursor.execute(statement)

    TransactionTestCase._fixture_teardown = without_guards  # type: ignore[method-assign]
    yield
    TransactionTestCase._fixture_teardown = emptying  # type: ignore[method-assign]


def address_or_skip(variable: str) -> str:
    address = os.environ.get(variable, "")
    if not address:
        pytest.skip(f"{variable} is not set; deploy/test starts the server and sets it")
    return address


@pytest.fixture(scope="session")
def postgres_url() -> str:
    """Address of the throw-away PostgreSQL server."""
    return address_or_skip("VERGLAS_TEST_POSTGRES_URL")


@pytest.fixture(scope="session")
def redis_url() -> str:
    """Address of the throw-away Redis server."""
    return address_or_skip("VERGLAS_TEST_REDIS_URL")


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """The system's Chromium: the driver's own download is not needed."""
    chromium: str | None = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    if chromium is None:
        pytest.fail("Chromium is missing; deploy/test installs it")
    return {"executable_path": chromium, "args": CHROMIUM_ARGUMENTS}


@pytest.fixture(scope="session")
def browser_context_args() -> dict[str, object]:
    """British English and UTC, so that pages read the same everywhere."""
    return {"locale": "en-GB", "timezone_id": "UTC"}


def pytest_report_header() -> Iterable[str]:
    return [f"database: {settings.DATABASES['default']['ENGINE'].rsplit('.', 1)[-1]}"]
