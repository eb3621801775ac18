"""An erasure takes the family's key from beside every backup that can be reached, and says which cannot."""

from __future__ import annotations

import fcntl
import os
import shutil
from datetime import timedelta
from pathlib import Path
from threading import Event
from uuid import UUID

import pytest

from suffice.care.backup import family_keys, reaching
from suffice.care.backup.key import new_key
from suffice.care.backup.making import make_backup
from suffice.care.backup.restoring import restore
from suffice.care.family import erasing
from suffice.errors import InputError
from suffice.record import erasure, repository
from unit.care.backup.test_backup import empty, home  # noqa: F401 -- the fixture
from unit.care.backup.test_family_keys import FAMILY, NOW, OTHER, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def disks(tmp_path: Path) -> tuple[Path, Path]:
    """Two folders with a backup each, by a key each."""
    made = tmp_path / "here", tmp_path / "there"
    for day, folder in enumerate(made):
        folder.mkdir()
        key_file = tmp_path / f"key of {folder.name}"
        make_backup(folder, new_key(key_file), now=NOW + timedelta(days=day), key_file=key_file)
    return made


def erase() -> None:
    """As the page does it, from the act in the database on."""
    erasure.ask(erasure.Request(family_id=FAMILY, at=NOW, by="one", why="retention"))
    erasure.erase(FAMILY, by="two", now=NOW)
    erasing.clear_up([FAMILY])


def keys_in(folder: Path) -> set[UUID]:
    key = reaching.read_key(folder.parent / f"key of {folder.name}")
    (path,) = folder.glob("*.backup")
    return set(family_keys.ring_beside(path, key, None).keys)


def test_it_reaches_every_folder_in_the_same_act(disks: tuple[Path, Path]) -> None:
    assert all(keys_in(one) == {FAMILY, OTHER} for one in disks)
    erase()
    assert all(keys_in(one) == {OTHER} for one in disks)
    assert reaching.owed([FAMILY]) == ()
    for folder in disks:
        # Another file than before, so that its bytes are freed; none is left half done.
        assert [one.name for one in folder.iterdir() if one.name.startswith(".")] == []


def test_a_backup_from_before_opens_for_it_no_more(disks: tuple[Path, Path]) -> None:
    erase()
    empty()
    (path,) = disks[0].glob("*.backup")
    restore(path, reaching.read_key(disks[0].parent / "key of here"))
    assert repository.family_ids() == (OTHER,)


@pytest.mark.parametrize("how", ["unmounted", "gone", "read only", "key away", "altered"])
def test_a_folder_that_is_out_of_reach_is_said_and_reached_later(
    disks: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    here, there = disks
    away, key = tmp_path / "away", tmp_path / "key of there"
    if how in {"unmounted", "gone"}:
        there.rename(away)
        if how == "unmounted":
            there.mkdir()
    elif how == "key away":
        key.rename(away)
    elif how == "altered":
        (copy,) = there.glob("*.families")
        shutil.copy(copy, away)
        copy.write_bytes(copy.read_bytes()[:-1] + b"x")
    else:
        refuse_writing(monkeypatch, there)
    erase()
    assert keys_in(here) == {OTHER}
    assert reaching.owed([FAMILY]) == (str(there),)
    erasing.sweep_erased()
    assert reaching.owed([FAMILY]) == (str(there),)
    if how in {"unmounted", "gone"}:
        shutil.rmtree(there, ignore_errors=True)
        away.rename(there)
    elif how == "key away":
        away.rename(key)
    elif how == "altered":
        (copy,) = there.glob("*.families")
        shutil.copy(away, copy)
    else:
        monkeypatch.undo()
    assert keys_in(there) == {FAMILY, OTHER}
    # What the program does every minute.
    erasing.sweep_erased()
    assert keys_in(there) == {OTHER}
    assert reaching.owed([FAMILY]) == ()


def refuse_writing(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """As a disk that is mounted read only; whoever is root may write past the rights of a folder."""
    real = os.open

    def refusing(path, flags, *rest, **named):
        if flags & os.O_CREAT and str(path).startswith(str(folder)):
            raise PermissionError(30, "Read-only file system")
        return real(path, flags, *rest, **named)

    monkeypatch.setattr(family_keys.os, "open", refusing)


def test_a_share_that_never_answers_keeps_nobody_waiting(
    disks: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = Event()
    real = family_keys.strike_copy

    def hanging(folder: Path, *rest: object) -> None:
        if folder == disks[0]:
            assert answers.wait(60)
        real(folder, *rest)

    monkeypatch.setattr(family_keys, "strike_copy", hanging)
    erasure.ask(erasure.Request(family_id=FAMILY, at=NOW, by="one", why="retention"))
    erasure.erase(FAMILY, by="two", now=NOW)
    erased = tuple(erasure.every())
    assert len(reaching.reach(erased, wait_s=0.05)) == 2
    # A second one begins none beside it.
    assert len(reaching.reach(erased, wait_s=0.05)) == 2
    answers.set()
    assert reaching._at_work.acquire(timeout=60)
    reaching._at_work.release()
    assert reaching.owed([FAMILY]) == ()
    assert all(keys_in(one) == {OTHER} for one in disks)


def test_while_a_backup_is_made_nothing_is_taken_from_under_it(
    disks: tuple[Path, Path],
    home: Path,  # noqa: F811
) -> None:
    with (home / "backup.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        erase()
        assert keys_in(disks[0]) == {FAMILY, OTHER}
        assert len(reaching.owed([FAMILY])) == 2
    erasing.sweep_erased()
    assert reaching.owed([FAMILY]) == ()


def test_the_next_backup_reaches_the_other_folder_too(
    disks: tuple[Path, Path], tmp_path: Path
) -> None:
    here, there = disks
    there.rename(tmp_path / "away")
    erase()
    (tmp_path / "away").rename(there)
    key_file = tmp_path / "key of here"
    make_backup(here, reaching.read_key(key_file), now=NOW + timedelta(9), key_file=key_file)
    reaching.strike(tuple(erasure.every()))
    assert keys_in(there) == {OTHER}


def test_a_folder_that_is_gone_for_good_is_expected_no_more(disks: tuple[Path, Path]) -> None:
    shutil.rmtree(disks[1])
    erase()
    assert reaching.forget_folder(disks[1])
    assert not reaching.forget_folder(disks[1])
    assert reaching.owed([FAMILY]) == ()


def test_a_record_from_before_folders_were_noted_knows_that_of_its_last_backup(
    disks: tuple[Path, Path], home: Path, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:  # fmt: skip
    (home / reaching.FILE).unlink()
    erase()
    assert reaching.owed([FAMILY]) == (str(disks[1]),)
    monkeypatch.setenv(reaching.KEY_VARIABLE, str(disks[1].parent / "key of there"))
    erasing.sweep_erased()
    assert keys_in(disks[1]) == {OTHER}
    assert reaching.owed([FAMILY]) == ()


def test_another_key_opens_no_copy(disks: tuple[Path, Path], tmp_path: Path) -> None:
    (copy,) = disks[0].glob("*.families")
    with pytest.raises((InputError, OSError)):
        family_keys.strike_copy(disks[0], new_key(tmp_path / "new"), ())
    assert copy.exists()
