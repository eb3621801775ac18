"""A consultant in Madrid on 25 November 2026, her two families on the record."""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before it is set up

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from bad_input.family import NOW, OPENED, ZONE, an_id, another, twins
from kept_rows import KeptRows
from members import a_member

if TYPE_CHECKING:
    from django.contrib.auth.models import User
    from django.test import Client
    from pytest_django.fixtures import SettingsWrapper


@pytest.fixture
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock stands still, so that a message may hold a time."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def consultant(db: None, still: None, settings: SettingsWrapper) -> User:
    # Argon2 is slow on purpose, and nothing here is about signing in.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    return a_member("consultant", "lead", passphrase="four quiet words", is_administrator=True)


@pytest.fixture
def families(db: None, still: None) -> None:
    """The clinic's policy, and both families: computed once, then only put back."""
    _BOTH.put()


def _open_both() -> None:
    from suffice.care.clinic.clinic import change_policy
    from suffice.care.family.recording import open_family

    settings = {"clinic_name": "Test clinic", "zone": ZONE}
    change_policy(an_id("policy"), settings, now=OPENED, actor="consultant")
    for record in (twins(), another()):
        open_family(record, now=NOW, actor="consultant", confirmed=True)


_BOTH = KeptRows(_open_both)


@pytest.fixture
def page(consultant: User, families: None) -> Client:
    """A browser in which the consultant has signed in."""
    from django.test import Client

    client = Client(raise_request_exception=False)
    client.force_login(consultant)
    return client
