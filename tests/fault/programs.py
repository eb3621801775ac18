"""A database of a test's own, and the programs that are let loose on it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]


class Programs:
    """One database, and how programs are started on it.

    Args:
        home: The folder of the record.
        database_url: Of PostgreSQL; empty for SQLite.
        app: Whose migrations run at first; all, where none is named.
        settings: Further variables of their environment.
    """

    def __init__(
        self,
        home: Path,
        database_url: str = "",
        app: str = "",
        settings: Mapping[str, str] | None = None,
    ) -> None:
        self.home = home
        self.database_url = database_url
        self.environment = {
            **os.environ,
            "SUFFICE_HOME": str(home),
            "DATABASE_URL": database_url,
            "DJANGO_SETTINGS_MODULE": "suffice.web.site.settings",
            "PYTHONPATH": os.pathsep.join([str(TESTS.parent / "src"), str(TESTS)]),
            **(settings or {}),
        }
        self.run("-m", "django", "migrate", "--skip-checks", "-v0", *([app] if app else []))

    def run(self, *arguments: str) -> str:
        """Run python to its end and give what it printed."""
        done = subprocess.run(
            [sys.executable, *arguments],
            check=False,
            capture_output=True,
            text=True,
            env=self.environment,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout
