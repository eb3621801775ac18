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
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from benchmarks.result import Result

ROOT = Path(__file__).resolve().parent.parent
TARGETS = {
    "caseload page, 2,000 families": (150.0, "ms"),
    "family page, 2,000 entries": (200.0, "ms"),
    "2,000 families assessed anew": (10.0, "s"),
}


def printed(module: str, url: str) -> Any:
    """What a module printed last, as JSON, run in a process with one database."""
    with tempfile.TemporaryDirectory() as home:
        environment = {
            **os.environ,
            "SUFFICE_HOME": home,
            "DATABASE_URL": url,
            "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
        }
        done = subprocess.run(
            [sys.executable, "-m", module],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stdout + done.stderr)
    return json.loads(done.stdout.splitlines()[-1])


def on_each_engine(module: str) -> Iterator[tuple[str, Any]]:
    """The engine's name with what the module printed on it."""
    sys.path.insert(0, str(ROOT / "tests"))
    import postgres  # noqa: PLC0415 -- the private server of the tests

    yield "SQLite", printed(module, "")
    with postgres.running(fsync=True) as server:
        yield "PostgreSQL", printed(module, server.create_database("bench"))


def run() -> list[Result]:
    results = []
    for engine, rows in on_each_engine("benchmarks.page_load"):
        for row in rows:
            target, unit = TARGETS.get(row["name"], (row.get("target"), row["unit"]))
            name = f"{row['name']} ({engine})"
            results.append(Result(name, row["value"], unit, target, detail=row["detail"]))
    return results
