"""PostgreSQL brought back to a moment with its own tools, by the settings that docs/backup.md prints."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import psycopg
import pytest

from fault.test_kill_restore import environment, family_file, run
from patience import until
from postgres import NOBODY, Server, running

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "backup.md").read_text(encoding="utf-8")
ARCHIVE = "/mnt/backup/wal"
MOMENT = "2026-11-29 21:30:00+00"


def printed(setting: str, archive: Path) -> str:
    """A line of the page with a folder of our own in it."""
    (line,) = re.findall(rf"^{setting} = .*$", PAGE, re.MULTILINE)
    return f"{line}\n".replace(ARCHIVE, str(archive))


def own(folder: Path) -> None:
    """Give a folder to the user of the server, where that is another one."""
    if os.geteuid() == 0:
        for path in (folder, *folder.rglob("*")):
            shutil.chown(path, NOBODY, NOBODY)


def asked(server: Server, database: str, question: str) -> str:
    with psycopg.connect(server.url(database), autocommit=True) as connection:
        row = connection.execute(question).fetchone()
    assert row is not None
    return str(row[0])


def base_backup(server: Server, into: Path) -> None:
    done = subprocess.run(
        [server.binaries / "pg_basebackup", "--pgdata", into, "--dbname", server.url()],
        env={**os.environ, "LC_ALL": "C"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
def test_a_record_is_brought_back_to_a_moment(tmp_path: Path) -> None:
    home = tmp_path / "home"
    with running(fsync=True) as server:
        archive, back = server.folder / "wal", server.folder / "back"
        archive.mkdir()
        back.mkdir()
        own(archive)
        server.stop()
        with (server.folder / "data" / "postgresql.conf").open("a") as file:
            file.writelines(printed(one, archive) for one in ("archive_mode", "archive_command"))
        server.start()
        said = environment(home, server.create_database("clinic"))
        run(said, "-m", "suffice.cli", "team", "list")
        base_backup(server, back / "data")
        run(said, "-m", "suffice.cli", "import", family_file(tmp_path))
        moment = asked(server, "clinic", "SELECT clock_timestamp()")
        # What went wrong afterwards.
        run(said, "-m", "suffice.cli", "team", "add", "By mistake")
        last = asked(server, "clinic", "SELECT pg_walfile_name(pg_switch_wal())")
        until((archive / last).is_file, bool)
        server.stop()

        with (back / "data" / "postgresql.conf").open("a") as file:
            file.write(printed("restore_command", archive))
            file.write(printed("recovery_target_time", archive).replace(MOMENT, moment))
            file.write(printed("recovery_target_action", archive))
        (back / "data" / "recovery.signal").touch()
        own(back)
        restored = Server(server.binaries, back, server.password, fsync=True)
        try:
            restored.start()
            until(lambda: asked(restored, "clinic", "SELECT pg_is_in_recovery()"), "False".__eq__)
            then = environment(home, restored.url("clinic"))
            teams = run(then, "-m", "suffice.cli", "team", "list")
            assert "By mistake" not in teams
            assert "Svetlana" in run(then, "-m", "suffice.cli", "caseload")
            checked = run(then, "-m", "suffice.cli", "verify")
            assert "Nothing was changed, removed or added" in checked
            run(then, "-m", "suffice.cli", "team", "add", "Afterwards")
        finally:
            restored.stop()
