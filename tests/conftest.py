"""One database for the tests, chosen before Django reads its settings; never the clinic's own.

`pytest` runs everything, on SQLite in a file of its own (a memory database knows neither WAL nor
waiting for a lock). `pytest --engine postgres` runs, on a private PostgreSQL (tests/postgres.py),
exactly the tests that use the database, and leaves the others out: they would show nothing new;
`--engine encrypted` the same on a SQLite that is encrypted whole. After a run on SQLite with `--statements FOLDER` it leaves out more of those of pages (tests/statements.py).
A test on SQLite that needs a PostgreSQL besides asks for the fixture `postgres`.

The environment is set here and not in pyproject.toml, because pytest-django would read Django's
settings, which make their home folder, before anything could point them elsewhere.
"""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before the environment is set

from __future__ import annotations

import contextlib
import gc
import os
import shutil
import signal
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from fixed_draws import fix_the_draws
from postgres import NoPostgresError, Server, running
from statements import Hearing, kept, left_out

# A busy machine is no failure, and a run must not depend on luck: no deadline, one fixed draw.
settings.register_profile("suffice", deadline=None, derandomize=True)
settings.load_profile("suffice")
fix_the_draws()

_home = Path(tempfile.mkdtemp(prefix="suffice-tests-"))
os.environ["SUFFICE_HOME"] = str(_home)
os.environ["DJANGO_SETTINGS_MODULE"] = "suffice.web.site.settings"
for _name in ("DATABASE_URL", "SUFFICE_RECORD_KEY"):
    os.environ.pop(_name, None)

DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--engine",
        choices=["sqlite", "encrypted", "postgres"],
        default="sqlite",
        help="the database engine; any but sqlite runs only the tests that use the database",
    )
    parser.addoption(
        "--statements",
        metavar="FOLDER",
        help="keep there what tests of pages ask of SQLite; on postgres, leave out what asks nothing more",
    )


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What failed at its first try is told with its reason, also where the second try passed."""
    for report in terminalreporter.getreports("rerun"):
        terminalreporter.section(f"first try of {report.nodeid}", sep="_")
        terminalreporter.line(report.longreprtext)


def pytest_configure(config: pytest.Config) -> None:
    # A run that is told to stop cleans up as one that is interrupted by hand.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    stack = contextlib.ExitStack()
    config.add_cleanup(stack.close)
    stack.callback(shutil.rmtree, _home, ignore_errors=True)
    if _others_run_the_tests(config):
        _forget_statements(config)
        # Whoever inherits Django's settings module reads it before this file, with our home folder
        # and database: then all of them would share one, and empty it under each other's feet.
        for name in ("DJANGO_SETTINGS_MODULE", "SUFFICE_HOME"):
            del os.environ[name]
        return
    if config.getoption("--engine") == "encrypted":
        _encrypt()
    if config.getoption("--engine") == "postgres":
        try:
            os.environ["DATABASE_URL"] = stack.enter_context(running()).url("suffice")
        except NoPostgresError as error:
            raise pytest.UsageError(str(error)) from error
    from django.conf import settings

    assert settings.DATABASES  # reads the settings; pytest-django then sets Django up from them
    # Each client of a test would otherwise list all pictures and scripts anew before its first request.
    settings.WHITENOISE_AUTOREFRESH = True
    _hear_statements(config)


def _encrypt() -> None:
    """Let the record, and that of each program which a test starts, be encrypted with a key of this run."""
    from suffice.record.cipher import key

    place = _home / "record-key"
    key.KEPT_AS.make(place)
    os.environ[key.VARIABLE] = str(place)


def _on_postgres(config: pytest.Config) -> bool:
    return bool(config.getoption("--engine") == "postgres")


def _others_run_the_tests(config: pytest.Config) -> bool:
    """Whether this process only hands the tests out to others, each with a home of its own."""
    return bool(config.getoption("numprocesses", None)) and not hasattr(config, "workerinput")


def _statements_to_keep(config: pytest.Config) -> Path | None:
    """Where this run keeps what its tests ask; None where it is not asked to."""
    folder = config.getoption("--statements")
    return Path(folder) if folder and config.getoption("--engine") == "sqlite" else None


def _forget_statements(config: pytest.Config) -> None:
    """Remove what an earlier run kept, before the first process of this one keeps anything."""
    if (folder := _statements_to_keep(config)) is not None:
        shutil.rmtree(folder, ignore_errors=True)


def _hear_statements(config: pytest.Config) -> None:
    if (folder := _statements_to_keep(config)) is None:
        return
    from django.db.backends.signals import connection_created

    worker = getattr(config, "workerinput", {}).get("workerid")
    if worker is None:
        _forget_statements(config)
    hearing = Hearing(folder / f"{worker or 'alone'}.json")
    connection_created.connect(hearing.connected, weak=False)
    config.pluginmanager.register(hearing)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Collect tests without looking for garbage: all that is made is kept, and looked through for nothing."""
    gc.disable()
    answer = yield
    gc.freeze()
    gc.enable()
    gc.set_threshold(
        20_000, 20, 20
    )  # a test makes much and throws nearly all of it away without circles
    return answer


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--engine") == "sqlite":
        return
    gone = {item for item in items if not _uses_database(item)}
    if (folder := config.getoption("--statements")) is not None and _on_postgres(config):
        gone |= left_out([item for item in items if item not in gone], kept(Path(folder)))
    config.hook.pytest_deselected(items=[item for item in items if item in gone])
    items[:] = [item for item in items if item not in gone]


def _uses_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(DATABASE_FIXTURES & fixtures)


def pytest_report_header(config: pytest.Config) -> str:
    return f"suffice: on {config.getoption('--engine')}"


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A private PostgreSQL that keeps what it acknowledged: fsync is on."""
    try:
        with running(fsync=True) as server:
            yield server
    except NoPostgresError as error:
        pytest.fail(str(error))


@pytest.fixture(scope="session", autouse=True)
def _tests_may_empty_the_record() -> Iterator[None]:
    """Lift the append-only triggers while Django empties the tables after a transactional test.

    They stand during every test: only the cleaning up between two tests goes without them.
    """
    from django.db import connection
    from django.test import TransactionTestCase

    from suffice.record import append_only

    empty_tables = TransactionTestCase._fixture_teardown

    def teardown(self: TransactionTestCase) -> None:
        append_only.remove(connection)
        try:
            empty_tables(self)
        finally:
            append_only.install(connection)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", teardown)
        yield


@pytest.fixture(autouse=True)
def _seals_of_its_own() -> Iterator[None]:
    """Remove the copy of the seals that lies beside the record, when the record of a test is gone."""
    yield
    (_home / "seals").unlink(missing_ok=True)


@pytest.fixture(autouse=True)
def _language_as_at_the_start() -> Iterator[None]:
    """Forget the language that a page or a command left behind, so that no test depends on another's."""
    from django.utils import translation

    from suffice.cli import console

    yield
    translation.deactivate()
    console._speaking.set(None)
