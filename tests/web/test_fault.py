"""What goes wrong is told with a number; the log finds it and names nobody."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import UUID

import pytest
from django.db import OperationalError, ProgrammingError
from django.test import Client

from suffice.record import repository
from suffice.web.incident import QuietFormatter
from web.story import FAMILY, NAME

SECRET = "Oriane weighs 3150"


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Callable[[], str]]:
    """Everything that any logger says, as our log file would hold it."""
    path = tmp_path / "log"
    handler = logging.FileHandler(path, encoding="utf-8")
    handler.setFormatter(QuietFormatter())
    names = ("", "suffice", "django", "django.request", "django.security")
    for name in names:
        logging.getLogger(name).addHandler(handler)
    yield lambda: path.read_text(encoding="utf-8")
    for name in names:
        logging.getLogger(name).removeHandler(handler)
    handler.close()


def test_bug_of_ours_shows_a_number_that_the_log_holds_and_no_patient_data(
    page: Client, family: UUID, log: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_args: object, **_options: object) -> None:
        raise ValueError(SECRET)

    monkeypatch.setattr("suffice.web.family.views.family_page", breaks)
    page.raise_request_exception = False
    answer = page.get(f"/families/{FAMILY}/")
    html = answer.content.decode()
    assert answer.status_code == 500
    assert SECRET not in html
    (number,) = re.findall(r"<strong>([0-9A-F]{8})</strong>", html)
    written = log()
    assert number in written
    assert "ValueError" in written
    assert "breaks" in written
    assert SECRET not in written


def test_ordinary_work_writes_no_names_or_values_into_the_log(
    page: Client, weigh: Callable[..., dict[str, str]], log: Callable[[], str]
) -> None:
    page.get(f"/?q={NAME.split()[0]}")
    page.post(f"/families/{FAMILY}/enter/weight/", weigh("31500"))
    page.post(f"/families/{FAMILY}/enter/weight/", weigh("3150"))
    page.get(f"/families/{FAMILY}/")
    page.get(f"/nowhere/?q={NAME}")
    page.get(f"/families/{FAMILY}/?as_of={NAME}")
    written = log()
    for said in ("Oriane", "3150", "Ava", "Ben", "Testcase"):
        assert said not in written


def test_refusal_of_the_store_is_told_in_words(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    from suffice.errors import Problem, StorageError  # noqa: PLC0415

    problem = Problem(code="RECORD-009", what="The store", why="did not answer.", fix="Try again.")

    def refuses(*_args: object, **_options: object) -> None:
        raise StorageError(problem)

    monkeypatch.setattr("suffice.web.family.views.ask", refuses)
    answer = page.get(f"/families/{FAMILY}/")
    assert answer.status_code == 503
    assert "RECORD-009" in answer.content.decode()


def test_host_that_is_not_ours_is_refused_with_a_number(page: Client) -> None:
    answer = page.get("/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "Incident number" in answer.content.decode()


def test_policy_that_cannot_be_read_is_told_on_every_page(
    page: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from suffice.errors import Problem, StorageError  # noqa: PLC0415

    problem = Problem(code="POLICY-005", what="Version 3", why="is too new.", fix="Update.")

    def refuses() -> None:
        raise StorageError(problem)

    monkeypatch.setattr("suffice.web.site.middleware.clinic", refuses)
    answer = page.get("/")
    assert answer.status_code == 503
    assert "POLICY-005" in answer.content.decode()


AWAY = "connection to server at 10.0.0.5 failed for user suffice"


@pytest.mark.parametrize(
    "broken", ["suffice.web.family.views.family_page", "django.contrib.auth.get_user"]
)
def test_database_that_is_away_is_said_without_its_own_words(
    page: Client,
    family: UUID,
    log: Callable[[], str],
    monkeypatch: pytest.MonkeyPatch,
    broken: str,
) -> None:
    """Also where nobody can tell who has signed in, which each page's frame would ask."""

    def away(*_args: object, **_options: object) -> None:
        raise OperationalError(AWAY)

    monkeypatch.setattr(broken, away)
    page.raise_request_exception = False
    answer = page.get(f"/families/{FAMILY}/")
    html = answer.content.decode()
    assert answer.status_code == 503
    assert answer["Retry-After"]
    assert "The record cannot be reached" in html
    assert AWAY not in html
    (number,) = re.findall(r"<strong>([0-9A-F]{8})</strong>", html)
    assert number in log()
    assert AWAY not in log()


def test_fault_of_ours_in_a_query_is_no_database_that_is_away(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(*_args: object, **_options: object) -> None:
        raise ProgrammingError("no such column")

    monkeypatch.setattr("suffice.web.family.views.family_page", wrong)
    page.raise_request_exception = False
    assert page.get(f"/families/{FAMILY}/").status_code == 500


def test_record_that_fails_says_why_in_our_words(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(*_args: object, **_options: object) -> None:
        raise repository.unavailable(OperationalError(AWAY))

    monkeypatch.setattr("suffice.web.family.views.family_page", locked)
    html = page.get(f"/families/{FAMILY}/").content.decode()
    assert "RECORD-009" in html
    assert AWAY not in html
