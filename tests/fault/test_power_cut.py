"""A power cut on SQLite: of what was written since the last flush of a file any part may be missing.

Every write and flush of a writer is looked at as it happens (`calls.py`). From that the
disk is made as it may be found after a cut at any moment: everything that was flushed, and of the
rest each sector or not, by chance. What was acknowledged before the cut is there, whole, each time.
"""

from __future__ import annotations

import random
import shutil
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from fault.test_kill import TESTS, Case
from fault.watched import Call, calls_of
from record_file import a_key
from sweeps import each

SECTOR_BYTES = 512
LAST = 120
"""Batches: the log of the database is taken over into its file in between, which is written then too."""
MOMENTS = 400
SEED = 20261129
CUTS_SHORT = frozenset({"fsync", "fdatasync", "ftruncate", "pwrite64"})
"""The calls by which SQLite writes."""


@dataclass
class File:
    """A file as it was flushed, and what was written to it since: where, and what."""

    flushed: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes]] = field(default_factory=list)

    def flush(self) -> None:
        self.flushed = bytearray(self.found(lambda: True))
        self.since = []

    def found(self, survives) -> bytes:
        """What a reader finds of which the writes since the last flush survived, sector by sector."""
        content = bytearray(self.flushed)
        for start, text in self.since:
            for at in range(0, len(text), SECTOR_BYTES):
                if survives():
                    part = text[at : at + SECTOR_BYTES]
                    place = start + at
                    content.extend(bytes(max(0, place + len(part) - len(content))))
                    content[place : place + len(part)] = part
        return bytes(content)


@dataclass
class Disk:
    """The files of a record as calls of the system make them, and what was acknowledged meanwhile."""

    files: dict[str, File] = field(default_factory=dict)
    acknowledged: set[int] = field(default_factory=set)

    def take(self, call: Call) -> None:
        """One call: what it does to a file."""
        file = self.files.setdefault(Path(call.path).name, File())
        assert call.name in CUTS_SHORT
        if call.name == "pwrite64":
            file.since.append((call.place, call.content))
            return
        file.flush()
        if call.name == "ftruncate":
            del file.flushed[call.place :]


def is_of_database(path: str) -> bool:
    return Path(path).name in {"suffice.sqlite3", "suffice.sqlite3-wal"}


@pytest.mark.slow
@pytest.mark.parametrize("is_encrypted", [False, True])
def test_what_was_acknowledged_outlives_a_power_cut(tmp_path: Path, is_encrypted: bool) -> None:
    key = a_key(tmp_path)[0] if is_encrypted else None
    case, log = Case(tmp_path / "record", key=key), tmp_path / "calls"
    before = tmp_path / "before"
    shutil.copytree(case.home, before)
    writer = str(TESTS / "fault" / "writer.py")
    told = list(calls_of([sys.executable, writer, "1", LAST], case.environment, log))
    dice = random.Random(SEED)
    moments = {
        dice.randrange(len(told)) for _ in range(MOMENTS // each(20 if is_encrypted else 10))
    }
    disk, cut = Disk(), 0
    for path in before.glob("suffice.sqlite3*"):
        if not path.name.endswith("-shm"):
            disk.files[path.name] = File(bytearray(path.read_bytes()))
    for number, call in enumerate(told):
        if is_of_database(call.path):
            disk.take(call)
        elif call.name == "write":
            disk.acknowledged |= acknowledged(call.content)
        if number in moments:
            look(disk, tmp_path / f"cut-{number}", before, case, dice)
            cut += 1
    assert cut == len(moments)
    assert disk.acknowledged == set(range(1, LAST + 1))


def acknowledged(said: bytes) -> set[int]:
    lines = said.decode("utf-8", "replace").split("\n")
    return {int(one) for one in lines if one.isdigit()}


def look(disk: Disk, home: Path, before: Path, case: Case, dice: random.Random) -> None:
    """Make the disk as it may be found after a cut now, and look at the record that is on it."""
    shutil.copytree(before, home, ignore=shutil.ignore_patterns("suffice.sqlite3*"))
    chance = dice.choice((0.0, 0.5, 0.9, 1.0))
    for name, file in disk.files.items():
        (home / name).write_bytes(file.found(lambda: dice.random() < chance))
    found = Case.__new__(Case)
    found.home, found.database_url = home, ""
    found.environment = case.environment | {"SUFFICE_HOME": str(home)}
    found.acknowledged = set(disk.acknowledged)
    found.check()
    shutil.rmtree(home)
