"""A signed-in consultant, and the family of tests/web/story.py on the record."""
# ruff: noqa: PLC0415 -- nothing of Django may be imported before it is set up

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

import pytest

from kept_rows import KeptRows
from members import a_member
from web.story import FAMILY, PASSPHRASE, an_id, twins

if TYPE_CHECKING:
    from django.contrib.auth.models import User
    from django.test import Client
    from pytest_django.fixtures import SettingsWrapper


@pytest.fixture(autouse=True)
def _quick_digests(settings: SettingsWrapper) -> None:
    """Argon2 is slow on purpose; only the test of signing in needs it."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def consultant(db: None) -> User:
    return a_member("consultant", "lead", passphrase=PASSPHRASE, is_administrator=True)


@pytest.fixture
def colleague(db: None) -> User:
    """A user of the same team who may neither change the policy nor add users."""
    return a_member("colleague", passphrase=PASSPHRASE)


@pytest.fixture
def page(consultant: User) -> Client:
    """A browser in which the consultant has signed in."""
    from django.test import Client

    client = Client()
    client.force_login(consultant)
    return client


@pytest.fixture
def madrid(consultant: User) -> None:
    """A clinic in Madrid: its clocks go back on 25 October 2026 and forward on 29 March 2026."""
    from suffice.care.clinic.clinic import change_policy

    settings = {"clinic_name": "Test clinic", "zone": "Europe/Madrid"}
    change_policy(an_id("policy"), settings, now=datetime.now(UTC), actor="consultant")


@pytest.fixture
def family(consultant: User) -> UUID:
    """The twins, on the record: of this minute, in which a process opens them once and then puts them back."""
    from suffice.record import models

    now = datetime.now(UTC).replace(second=0, microsecond=0)
    # What a policy or another family came before is chained and judged otherwise.
    before = (models.PolicyVersion, models.Family, models.Link, models.TrailEvent)
    if any(model._base_manager.exists() for model in before):
        _open_twins(now)
    else:
        _TWINS.put(now)
    return FAMILY


def _open_twins(now: datetime) -> None:
    from suffice.care.family.recording import open_family

    open_family(twins(now), now=now, actor="consultant", confirmed=True)


_TWINS = KeptRows(_open_twins)


@pytest.fixture
def weigh(family: UUID) -> Callable[..., dict[str, str]]:
    """What a weight form of the first twin sends."""

    def form(weight: str = "3150", **changed: str) -> dict[str, str]:
        return {
            "entry_id": str(an_id("typed")),
            "infant": str(an_id("infant 1")),
            "weight": weight,
            "clothing": "naked",
            "feed_state": "",
            "when": f"{datetime.now(UTC) - timedelta(minutes=5):%Y-%m-%dT%H:%M}",
            "basis": "measured",
            "device": "scale 1",
        } | changed

    return form
