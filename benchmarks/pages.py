"""How fast the caseload and a long family page are, on SQLite and on PostgreSQL.

Each engine is measured in a process of its own, since the settings are read at import. Figures are
the server's time for a page (Django's test client: no network, no browser).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.result import Result

ROOT = Path(__file__).resolve().parent.parent
TARGETS = {
    "caseload page, 2,000 families": (150.0, "ms"),
    "family page, 2,000 entries": (200.0, "ms"),
    "2,000 families assessed anew": (10.0, "s"),
}


def measured(engine: str, url: str) -> list[Result]:
    """What one process measured with one database."""
    with tempfile.TemporaryDirectory() as home:
        environment = {
            **os.environ,
            "SUFFICE_HOME": home,
            "DATABASE_URL": url,
            "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
        }
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.page_load"],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    results = []
    for row in json.loads(done.stdout.splitlines()[-1]):
        target, unit = TARGETS.get(row["name"], (row.get("target"), row["unit"]))
        results.append(
            Result(f"{row['name']} ({engine})", row["value"], unit, target, detail=row["detail"])
        )
    return results


def run() -> list[Result]:
    sys.path.insert(0, str(ROOT / "tests"))
    import postgres  # noqa: PLC0415 -- the private server of the tests

    results = measured("SQLite", "")
    with postgres.running(fsync=True) as server:
        return results + measured("PostgreSQL", server.create_database("bench"))
