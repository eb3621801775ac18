"""Of an encrypted record nothing readable is ever written: each write of each command is looked at.

A file that is there for a moment only, a log, a copy on its way into a backup or out of it would show here.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from fault.test_kill_restore import environment, family_file, run
from fault.watched import calls_of
from record_file import a_key
from suffice.care.backup.key import new_key
from suffice.record.cipher.key import VARIABLE

NAME = b"Svetlana Inventada"


def watched(said: dict[str, str], under: Path, *command: str | Path) -> dict[str, bytes]:
    """What was written to each file under a folder, one write after another."""
    found: dict[str, bytes] = {}
    for call in calls_of([sys.executable, *command], said, under / "calls", 300):
        if call.path.startswith(f"{under}/"):
            found[call.path] = found.get(call.path, b"") + call.content
    return found


def seen(found: dict[str, bytes]) -> list[str]:
    return [path for path, content in found.items() if NAME in content]


def is_whole(said: dict[str, str]) -> bool:
    return "Nothing was changed" in run(said, "-m", "suffice.cli", "verify")


@pytest.mark.slow
def test_a_backup_of_either_is_restored_as_either(tmp_path: Path) -> None:
    """What is restored into an encrypted record is never on the disk readable, whatever it is a backup of."""
    key, family = tmp_path / "key", family_file(tmp_path)
    new_key(key)
    plain = environment(tmp_path / "one", "")
    encrypted = environment(tmp_path / "two", "") | {VARIABLE: str(a_key(tmp_path)[0])}
    for said, other in ((plain, encrypted), (encrypted, plain)):
        shelf = tmp_path / f"of-{Path(said['SUFFICE_HOME']).name}"
        shelf.mkdir()
        run(said, "-m", "suffice.cli", "import", family)
        run(said, "-m", "suffice.cli", "backup", shelf, "--key", key)
        (file,) = shelf.glob("*.backup")
        into = other | {"SUFFICE_HOME": str(tmp_path / f"from-{shelf.name}")}
        restore = ("-m", "suffice.cli", "restore", file, "--key", key)
        if into.get(VARIABLE):
            assert seen(watched(into, tmp_path, *restore)) == []
        else:
            run(into, *restore)
        assert is_whole(into)


@pytest.mark.slow
def test_no_command_writes_anything_readable(tmp_path: Path) -> None:
    key, family = tmp_path / "key", family_file(tmp_path)
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    new_key(key)
    said = environment(tmp_path / "home", "")
    suffice = ("-m", "suffice.cli")
    # That what is written would be found at all:
    assert seen(watched(said, tmp_path, *suffice, "import", family))
    said = environment(tmp_path / "encrypted", "") | {VARIABLE: str(a_key(tmp_path)[0])}
    stored = watched(said, tmp_path, *suffice, "import", family)
    assert any(path.endswith("suffice.sqlite3-wal") for path in stored)
    backed_up = watched(said, tmp_path, *suffice, "backup", shelf, "--key", key)
    assert any("backup-work-" in path for path in backed_up)
    (file,) = shelf.glob("*.backup")
    other = said | {"SUFFICE_HOME": str(tmp_path / "restored")}
    restored = watched(other, tmp_path, *suffice, "restore", file, "--key", key)
    assert any("backup-work-" in path for path in restored)
    changed = watched(said, tmp_path, *suffice, "encrypt", "--change-to", a_key(tmp_path, "2")[0])
    assert any(path.endswith("suffice.sqlite3.changing") for path in changed)
    for found in (stored, backed_up, restored, changed):
        assert seen(found) == []
