"""A file waits for a day, for the program's own user only, and is then gone by itself."""

from __future__ import annotations

import os
import time
from uuid import uuid4

import pytest

from suffice.care import uploads
from suffice.errors import InputError


@pytest.fixture(autouse=True)
def _home(settings, tmp_path):
    settings.HOME = tmp_path


def age(name, seconds):
    then = time.time() - seconds
    (path,) = uploads.folder().glob(f"{name}.*")
    os.utime(path, (then, then))


def test_a_file_waits_until_it_is_forgotten():
    name = uploads.keep(b"rows", by=1)
    assert uploads.waits(name)
    assert uploads.kept(name) == b"rows"
    uploads.forget(name)
    uploads.forget(name)
    assert not uploads.waits(name)
    assert uploads.kept(name) is None
    assert uploads.kept(uuid4()) is None


def test_nothing_of_it_can_be_read_on_the_disk(settings):
    name = uploads.keep(b"Oriane,3150\n" * 1000, by=1)
    (path,) = uploads.folder().iterdir()
    assert b"Oriane" not in path.read_bytes()
    assert uploads.kept(name) == b"Oriane,3150\n" * 1000
    settings.SECRET_KEY = "another" * 10
    assert uploads.kept(name) is None


def test_all_that_wait_have_a_quota(monkeypatch):
    monkeypatch.setattr(uploads, "QUOTA_BYTES", 5000)
    first = uploads.keep(b"x" * 3000, by=1)
    with pytest.raises(InputError, match="FORM-014"):
        uploads.keep(b"x" * 3000, by=1)
    assert uploads.counts() == (1, 0)
    uploads.forget(first)
    uploads.keep(b"x" * 3000, by=1)


def test_whoever_sends_more_than_their_share_loses_their_own_oldest_and_nobody_else_s(monkeypatch):
    monkeypatch.setattr(uploads, "QUOTA_BYTES", 20_000)
    monkeypatch.setattr(uploads, "OWN_BYTES", 10_000)
    other = uploads.keep(b"x" * 3000, by=2)
    mine = [uploads.keep(b"x" * 3000, by=1) for _ in range(2)]
    for name, seconds in zip([other, *mine], (300, 200, 100), strict=True):
        age(name, seconds)
    last = uploads.keep(b"x" * 3000, by=1)
    assert [uploads.waits(one) for one in (other, *mine, last)] == [True, False, True, True]
    uploads.keep(b"x" * 3000, by=2)
    assert uploads.kept(other) == b"x" * 3000
    # One account's share is never another's whose number begins alike.
    uploads.keep(b"x", by=11)
    assert uploads.waits(mine[1])


def test_a_file_that_a_version_before_kept_is_still_found():
    name = uploads.keep(b"rows", by=1)
    (path,) = uploads.folder().iterdir()
    path.rename(uploads.folder() / f"{name}.file")
    assert uploads.kept(name) == b"rows"
    uploads.forget(name)
    assert not uploads.waits(name)


def test_only_the_program_s_own_user_can_read_it():
    uploads.keep(b"rows", by=1)
    (path,) = uploads.folder().iterdir()
    assert path.stat().st_mode & 0o077 == 0
    assert path.parent.stat().st_mode & 0o077 == 0


@pytest.mark.django_db
def test_the_upkeep_removes_a_file_after_its_day_and_no_younger_one():
    from suffice.care import upkeep  # noqa: PLC0415 -- needs the tables

    old, young = uploads.keep(b"old", by=1), uploads.keep(b"young", by=1)
    age(old, uploads.KEPT_S + 1)
    age(young, uploads.KEPT_S - 60)
    upkeep.sweep()
    assert not uploads.waits(old)
    assert uploads.waits(young)


def test_a_file_that_another_process_has_swept_away_is_no_fault(monkeypatch):
    name = uploads.keep(b"rows", by=1)
    (path,) = uploads.folder().iterdir()
    monkeypatch.setattr(type(path), "iterdir", lambda _folder: iter([path]))
    path.unlink()
    uploads.sweep()
    assert not uploads.waits(name)


def test_how_far_a_reading_is_can_be_asked_while_it_lasts_and_not_after(monkeypatch):
    monkeypatch.setattr(uploads, "NOTED_S", 0.0)
    name = uploads.keep(b"rows", by=1)
    assert uploads.how_far(name) is None
    with uploads.reading(name) as progress:
        assert uploads.how_far(name) is None
        progress(1, 8)
        assert uploads.how_far(name) == (1, 8)
        progress(7, 8)
        assert uploads.how_far(name) == (7, 8)
        assert oct(uploads.folder().stat().st_mode)[-3:] == "700"
    assert uploads.how_far(name) is None
    assert uploads.kept(name) == b"rows"


def test_a_reading_that_fails_leaves_no_note(monkeypatch):
    monkeypatch.setattr(uploads, "NOTED_S", 0.0)
    name = uploads.keep(b"rows", by=1)

    def read():
        with uploads.reading(name) as progress:
            progress(1, 8)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        read()
    assert uploads.how_far(name) is None


def test_a_note_that_is_being_written_is_not_known(tmp_path):
    name = uploads.keep(b"rows", by=1)
    (uploads.folder() / f"{name}.reading").write_text("")
    assert uploads.how_far(name) is None


def test_how_far_a_reading_is_is_not_noted_for_every_row():
    name = uploads.keep(b"rows", by=1)
    with uploads.reading(name) as progress:
        progress(1, 8)
        progress(2, 8)
        assert uploads.how_far(name) == (1, 8)
