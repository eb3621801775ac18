"""A consultant in Madrid on 25 November 2026, her two families on the record."""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before it is set up

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

import pytest

from bad_input.family import NOW, OPENED, ZONE, an_id, another, twins
from members import a_member

if TYPE_CHECKING:
    from django.contrib.auth.models import User
    from django.db.models import Model
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


_KEPT: list[Model] = []
"""What is on the record once both families are, in an order in which it can be stored."""


@pytest.fixture
def families(db: None, still: None) -> None:
    """The clinic's policy, and both families: computed once, then only put back."""
    from django.apps import apps

    models = list(apps.get_app_config("record").get_models())

    def stored() -> list[Model]:
        return [row for model in models for row in model._base_manager.all()]

    if not _KEPT:
        # Teams and members come with the user who signs in, and are there already.
        there = {(type(row), row.pk) for row in stored()}
        _open_both()
        _KEPT.extend(row for row in stored() if (type(row), row.pk) not in there)
        return
    for model in models:
        rows = [copy.copy(row) for row in _KEPT if type(row) is model]
        model._base_manager.bulk_create(rows)


def _open_both() -> None:
    from suffice.care.clinic.clinic import change_policy
    from suffice.care.family.recording import open_family

    settings = {"clinic_name": "Test clinic", "zone": ZONE}
    change_policy(an_id("policy"), settings, now=OPENED, actor="consultant")
    for record in (twins(), another()):
        open_family(record, now=NOW, actor="consultant", confirmed=True)


@pytest.fixture
def page(consultant: User, families: None) -> Client:
    """A browser in which the consultant has signed in."""
    from django.test import Client

    client = Client(raise_request_exception=False)
    client.force_login(consultant)
    return client
