"""From nothing to a record by the commands alone; kill -9 in a restore leaves nothing or all of it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fault.killing import kill_at
from people import BORN_AT, an_entry, an_id
from postgres import Server
from suffice.care.backup.key import new_key
from suffice.clinical.entry import Identity, Infant, Record, Weight
from suffice.exchange.family.family_json import FamilyFile, encode

TESTS = Path(__file__).resolve().parents[1]
RESTORER = str(TESTS / "fault" / "restorer.py")
HELD = "1 family, 2 entries"


def environment(home: Path, database_url: str) -> dict[str, str]:
    return {
        **{name: value for name, value in os.environ.items() if name != "SUFFICE_BACKUP_KEY"},
        "SUFFICE_HOME": str(home),
        "DATABASE_URL": database_url,
        "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
        "PYTHONPATH": os.pathsep.join([str(TESTS.parent / "src"), str(TESTS)]),
    }


def run(said: dict[str, str], *arguments: object) -> str:
    done = subprocess.run(
        [sys.executable, *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
        env=said,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def family_file(folder: Path) -> Path:
    infant = Infant(id=an_id("infant"), position=1)
    weight = Weight(weight_g=3120.0, clothing="naked")
    entries = (
        an_entry("name", Identity(name="Svetlana Inventada"), infant=None),
        an_entry("weight", weight, infant=infant, at_h=72),
    )
    record = Record(family_id=an_id("family"), infants=(infant,), entries=entries)
    path = folder / "family.json"
    file = FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant")
    path.write_bytes(encode(file))
    return path


def check(folder: Path, urls: tuple[str, str], places: tuple[str, ...], *, after: str = "") -> None:
    """Back up by command, kill restores at each place, restore by command.

    Args:
        urls: The DATABASE_URL of the record and of the empty one; empty for SQLite.
        places: Where to kill with nothing on the record then.
        after: Where to kill with everything on it; then there is nothing left to be restored.
    """
    key, shelf = folder / "key", folder / "backups"
    shelf.mkdir()
    new_key(key)
    old = environment(folder / "old", urls[0])
    new = environment(folder / "new", urls[1])
    run(old, "-m", "suffice.cli", "import", family_file(folder))
    made = run(old, "-m", "suffice.cli", "backup", shelf, "--key", key, "--keep", 3)
    assert HELD in made
    (file,) = shelf.glob("*.backup")
    for place in places:
        kill_at(place, [RESTORER, file, key, place], new)
    if after:
        kill_at(after, [RESTORER, file, key, after], new)
    else:
        # It is refused where anything was left on the record.
        restored = run(new, "-m", "suffice.cli", "restore", file, "--key", key)
        assert HELD in restored
        assert made.splitlines()[1] == restored.splitlines()[1], "the same newest entry"
        assert not list((folder / "new").glob("backup-work-*")), "what was killed is cleared away"
    assert "Svetlana" in run(new, "-m", "suffice.cli", "caseload")


def test_a_killed_restore_leaves_nothing_on_sqlite_until_its_one_step(tmp_path):
    check(tmp_path, ("", ""), ("look_at_sqlite", "put_sqlite"), after="bring_up_to_date")


@pytest.mark.postgres
def test_a_killed_restore_leaves_nothing_on_postgresql(tmp_path, postgres: Server):
    urls = (postgres.create_database("backed_up"), postgres.create_database("restored"))
    check(tmp_path, urls, ("put_sequences",))
