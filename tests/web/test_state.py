"""The page that tells an administrator how the record is."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.test import Client

from suffice.care import doctor
from suffice.care.backup.shelf import LastGood, note_good
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Identity
from suffice.record.values import Stored

PAGE = "/state/"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> Path:
    """A folder without any backup."""
    settings.HOME = tmp_path
    return tmp_path


def said(page: Client) -> str:
    answer = page.get(PAGE)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def test_it_says_when_the_last_good_backup_was_opened(page: Client, home: Path) -> None:
    assert "No backup has been made and checked" in said(page)
    kept = home / "kept.backup"
    kept.touch()
    ago = timedelta(hours=40)
    stored = Stored(families=1, entries=1)
    note_good(LastGood(path=str(kept), made_at=datetime.now(UTC) - ago, stored=stored))
    wrong, well = said(page).split("In order</h2>")
    assert "kept.backup, opened 40 h ago" in wrong
    assert "Let suffice backup run every night" in wrong
    note_good(LastGood(path=str(kept), made_at=datetime.now(UTC), stored=stored))
    wrong, well = said(page).split("In order</h2>")
    assert "kept.backup" not in wrong
    assert "kept.backup" in well


def test_it_is_found_from_the_users_and_names_nobody_of_a_family(
    page: Client, family: UUID
) -> None:
    assert f'href="{PAGE}"' in page.get("/users/").content.decode()
    html = said(page)
    assert str(family) not in html
    names = [one.fact.name for one in record_of(family).entries if isinstance(one.fact, Identity)]
    assert names
    assert not [one for one in names if one and re.search(rf"\b{one}\b", html)]


def test_not_every_page_of_the_database_is_read_while_somebody_waits(
    page: Client, monkeypatch
) -> None:
    def never(**_options: object) -> None:
        raise AssertionError

    monkeypatch.setattr(doctor.verify, "wrong_pages", never)
    assert "Triggers" in said(page)
