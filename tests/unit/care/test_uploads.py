"""A file waits for a day, for the program's own user only, and is then gone by itself."""

from __future__ import annotations

import os
import time
from uuid import uuid4

import pytest

from suffice.care import uploads


@pytest.fixture(autouse=True)
def _home(settings, tmp_path):
    settings.HOME = tmp_path


def age(name, seconds):
    then = time.time() - seconds
    os.utime(uploads.folder() / f"{name}.file", (then, then))


def test_a_file_waits_until_it_is_forgotten():
    name = uploads.keep(b"rows")
    assert uploads.waits(name)
    assert uploads.kept(name) == b"rows"
    uploads.forget(name)
    uploads.forget(name)
    assert not uploads.waits(name)
    assert uploads.kept(name) is None
    assert uploads.kept(uuid4()) is None


def test_only_the_program_s_own_user_can_read_it():
    uploads.keep(b"rows")
    (path,) = uploads.folder().iterdir()
    assert path.stat().st_mode & 0o077 == 0
    assert path.parent.stat().st_mode & 0o077 == 0


@pytest.mark.django_db
def test_the_upkeep_removes_a_file_after_its_day_and_no_younger_one():
    from suffice.care import upkeep  # noqa: PLC0415 -- needs the tables

    old, young = uploads.keep(b"old"), uploads.keep(b"young")
    age(old, uploads.KEPT_S + 1)
    age(young, uploads.KEPT_S - 60)
    upkeep.sweep()
    assert not uploads.waits(old)
    assert uploads.waits(young)


def test_a_file_that_another_process_has_swept_away_is_no_fault(monkeypatch):
    name = uploads.keep(b"rows")
    (path,) = uploads.folder().iterdir()
    monkeypatch.setattr(type(path), "iterdir", lambda _folder: iter([path]))
    path.unlink()
    uploads.sweep()
    assert not uploads.waits(name)
