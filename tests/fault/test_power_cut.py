"""A power cut on SQLite: of what was written since the last flush of a file any part may be missing.

A writer runs under strace, which tells every write and flush of the database's files with its content. From that
the disk is made as it may be found after a cut at any moment: everything that was flushed, and of the
rest each sector or not, by chance. What was acknowledged before the cut is there, whole, each time.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from fault.test_kill import TESTS, Case
from record_file import a_key
from sweeps import each

SECTOR_BYTES = 512
LAST = 120
"""Batches: the log of the database is taken over into its file in between, which is written then too."""
MOMENTS = 400
SEED = 20261129
CALL = re.compile(r"^\d+ +(\w+)\((\d+)<([^>]*)>(?:, (.*))?\) += (-?\d+)")
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
NUMBERS = re.compile(r"\d+")


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

    def take(self, call: str, path: str, rest: str) -> None:
        """One call: what it does to a file."""
        file = self.files.setdefault(Path(path).name, File())
        if call in {"fsync", "fdatasync"}:
            file.flush()
            return
        if call == "ftruncate":
            file.flush()
            del file.flushed[int(rest) :]
            return
        (text,) = TEXT.findall(rest)
        content = bytes.fromhex(text.replace("\\x", ""))
        file.since.append((int(NUMBERS.findall(rest.rsplit('"', 1)[1])[-1]), content))


def calls(log: Path) -> Iterator[tuple[str, str, str]]:
    """The calls of a log that succeeded: name, file, what was given."""
    for line in log.read_text(encoding="ascii").splitlines():
        found = CALL.match(line)
        if found and int(found[5]) >= 0:
            yield found[1], found[3], found[4] or ""


def is_of_database(path: str) -> bool:
    return Path(path).name in {"suffice.sqlite3", "suffice.sqlite3-wal"}


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("strace") is None, reason="strace tells what is written when")
@pytest.mark.parametrize("is_encrypted", [False, True])
def test_what_was_acknowledged_outlives_a_power_cut(tmp_path: Path, is_encrypted: bool) -> None:
    key = a_key(tmp_path)[0] if is_encrypted else None
    case, log = Case(tmp_path / "record", key=key), tmp_path / "calls"
    before = tmp_path / "before"
    shutil.copytree(case.home, before)
    traced = "trace=pwrite64,write,fsync,fdatasync,ftruncate"
    command = ["strace", "-f", "-y", "-xx", "-s", "1000000", "-e", traced, "-o", str(log)]
    writer = str(TESTS / "fault" / "writer.py")
    subprocess.run(
        [*command, sys.executable, writer, "1", str(LAST)],
        env=case.environment, check=True, capture_output=True, timeout=600,
    )  # fmt: skip
    told = list(calls(log))
    dice = random.Random(SEED)
    moments = {
        dice.randrange(len(told)) for _ in range(MOMENTS // each(20 if is_encrypted else 10))
    }
    disk, cut = Disk(), 0
    for path in before.glob("suffice.sqlite3*"):
        if not path.name.endswith("-shm"):
            disk.files[path.name] = File(bytearray(path.read_bytes()))
    for number, (call, path, rest) in enumerate(told):
        if is_of_database(unhexed(path)):
            disk.take(call, unhexed(path), rest)
        elif call == "write" and (said := acknowledged(rest)):
            disk.acknowledged |= said
        if number in moments:
            look(disk, tmp_path / f"cut-{number}", before, case, dice)
            cut += 1
    assert cut == len(moments)
    assert disk.acknowledged == set(range(1, LAST + 1))


def unhexed(path: str) -> str:
    return bytes.fromhex(path.replace("\\x", "")).decode() if path.startswith("\\x") else path


def acknowledged(rest: str) -> set[int]:
    (text,) = TEXT.findall(rest)
    lines = bytes.fromhex(text.replace("\\x", "")).decode("utf-8", "replace").split("\n")
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
