"""What was stored before there were chains is bound by the upgrade, on either engine."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from postgres import Server

TESTS = Path(__file__).resolve().parents[2]
ROWS = (2 + 700) + (2 + 3) + 1 + 1
"""Of a family, of one that was imported, the import's arrival, a policy; none that never arrived."""
LINKS = 2 + 1 + 1 + 1


def upgraded(home: Path, url: str):
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("upgraded.py"))],
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
        env={
            **os.environ,
            "SUFFICE_HOME": str(home),
            "DATABASE_URL": url,
            "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
            "PYTHONPATH": str(TESTS.parent / "src"),
        },
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("engine", ["sqlite", "postgresql"])
def test_the_upgrade_binds_what_is_on_the_record_and_a_later_change_is_found(
    engine, tmp_path, postgres: Server
):
    url = postgres.create_database("upgraded") if engine == "postgresql" else ""
    whole, dropped, changed, (of_family, of_import) = upgraded(tmp_path, url)
    assert whole == [LINKS, ROWS, []]
    assert dropped == whole
    assert changed[:2] == whole[:2]
    found = {key: (wrong, form) for wrong, form, key, _family in changed[2]}
    assert found == {of_family: ("changed", "entry"), of_import: ("changed", "entry")}
    assert all(family for _wrong, _form, _key, family in changed[2])
