"""The commands that docs/deployment.md prints for the first hour do what it says, run as they are printed.

From no record to two teams, five people, a backup, a restored copy and its chains, by a shell. The
folders are the test's own, and nobody is another user.
"""

from __future__ import annotations

import os
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from patience import PATIENCE_S

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "deployment.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```\w*\n(.*?)^```", re.MULTILINE | re.DOTALL)


def block(start: str) -> str:
    (found,) = [one for one in BLOCK.findall(PAGE) if one.startswith(start)]
    return found


@pytest.fixture
def shell(tmp_path: Path):
    """Run lines of the page; gives what they print, and stops at the first that fails."""
    for folder in ("srv", "etc", "mnt", "bin"):
        (tmp_path / folder).mkdir()

    def here(text: str) -> str:
        for path, own in (
            ("/opt/suffice/.venv/bin/suffice", tmp_path / "bin" / "program"),
            ("/srv/suffice", tmp_path / "srv"),
            ("/etc/suffice", tmp_path / "etc"),
            ("/mnt/backup", tmp_path / "mnt"),
        ):
            text = text.replace(path, str(own))
        return text.replace("runuser -u suffice -- ", "").replace(" -o suffice ", " ")

    def put(path: Path, text: str) -> None:
        path.write_text(text, encoding="utf-8")
        path.chmod(0o755)

    put(
        tmp_path / "bin" / "program",
        f'#!/bin/sh\nexec {sys.executable} -m suffice.cli "$@"\n',
    )
    put(tmp_path / "etc" / "environment", here(block("SUFFICE_HOME=")))
    put(tmp_path / "bin" / "suffice", here(block("#!/bin/sh\nset -a")))
    bare = {
        name: value
        for name, value in os.environ.items()
        if name != "DATABASE_URL" and not name.startswith("SUFFICE_")
    }
    path = f"{tmp_path / 'bin'}:{os.environ['PATH']}"

    def run(start: str) -> str:
        done = subprocess.run(
            ["/bin/sh", "-e", "-c", here(block(start))],
            env=bare | {"PATH": path, "TERM": "dumb"},
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=10 * PATIENCE_S,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    return run


@pytest.mark.slow
def test_first_hour_as_it_is_printed(shell, tmp_path):
    said = shell("suffice backup --new-key")
    key = tmp_path / "etc" / "backup-key"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert not (tmp_path / "srv" / "backup-key").exists()
    assert "Team 1" in said
    links = re.findall(r"^https://clinic\.example/welcome/\S+/$", said, re.MULTILINE)
    assert len(set(links)) == 5
    rows = {line.split()[0]: " ".join(line.split()) for line in said.splitlines() if line.strip()}
    assert "Ada Example, midwife lead (Ward), administrator" in rows["ada"]
    assert "consultant (Ward)" in rows["ben"]
    assert "lead (Home visits)" in rows["cleo"]
    assert "reader (Home visits)" in rows["dora"]
    assert rows["eve"].startswith("eve auditor")
    # Whoever follows the page leaves no file with a passphrase, and no record elsewhere.
    assert not (tmp_path / "srv" / "first-passphrase").exists()
    assert not (tmp_path / "var").exists()

    said = shell("suffice backup /mnt")
    assert "opened and counted" in said
    assert "Nothing was changed, removed or added" in said
    (backup,) = (tmp_path / "mnt").glob("*.backup")
    assert backup.name in said
    assert not (tmp_path / "srv" / "rehearsal").exists()
