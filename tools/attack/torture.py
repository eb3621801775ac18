"""Kills in the middle of everything that writes, and a count of what was lost of what was acknowledged.

    python -m tools.attack.torture [KILLS] [SEED]

The writers, importers, restorers and upgrades are those of tests/fault; here they are killed as often as is
asked, each time at another moment, on both engines. A record is looked at after each kill, past the
program that wrote it.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from types import ModuleType
from typing import Any

import psycopg
from rich.progress import Progress

TESTS = Path(__file__).resolve().parents[2] / "tests"
SEED = 20261129
BATCHES = 1_000_000
LONGEST_S = 8.0
"""A backup or a restore of so small a record takes no longer; a kill may come at any moment of it."""


class Writing:
    """Writers that are killed, or whose database is, one after the other on one record."""

    def __init__(self, module: ModuleType, home: Path, url: str, dice: random.Random) -> None:
        self.case: Any = module.Case(home, url)
        self.module, self.dice = module, dice
        module.BATCHES = BATCHES

    def kill_writer(self) -> None:
        """One more writer dies, anywhere within a write."""
        self.case.write_until(self.module.kill_at_once(self.dice), acks=self.dice.randint(3, 25))
        self.case.check()

    def kill_backend(self, server: Any, database: str) -> None:
        """The process of the database that serves the writer dies; the server starts itself anew."""

        def disturb(_writer: object) -> None:
            with psycopg.connect(server.url(), autocommit=True) as connection:
                found = connection.execute(
                    "SELECT pid FROM pg_stat_activity WHERE datname = %s", [database]
                ).fetchall()
            for (backend,) in found:
                os.kill(backend, signal.SIGKILL)

        self.case.write_until(disturb, acks=self.dice.randint(3, 25))
        server.wait()
        self.case.check()

    def kill_server(self, server: Any) -> None:
        """The whole database server dies."""
        self.case.write_until(
            lambda _writer: server.stop(signal.SIGKILL), acks=self.dice.randint(3, 25)
        )
        server.start()
        self.case.check()

    @property
    def acknowledged(self) -> int:
        """How many entries were acknowledged; each was found again after each kill."""
        return len(self.case.acknowledged) * int(self.module.BATCH_SIZE)


class Importing:
    """Imports that are killed at a stage; nothing of them may be on the record."""

    STAGES = ("reading", "checking", "storing")

    def __init__(self, module: ModuleType, home: Path, url: str, dice: random.Random) -> None:
        home.mkdir()
        self.case: Any = module.Case(home, url)
        self.dice = dice

    def kill(self) -> None:
        """One more import dies; a start of the program clears away what it left."""
        stage = self.dice.choice(self.STAGES)
        self.case.kill_at(stage, self.dice.randint(1, 3) if stage == "storing" else 1)
        found = self.case.restarted()
        for when in ("before", "after"):
            assert (found[when]["arrived"], found[when]["entries"]) == (None, 0), found
        assert (found["after"]["rows"], found["after"]["busy"]) == (0, False), found


class Keeping:
    """Backups and restores that are killed at any moment; each file on the shelf is whole."""

    def __init__(self, module: ModuleType, folder: Path, dice: random.Random) -> None:
        from suffice.care.backup.key import new_key  # noqa: PLC0415 -- from the project itself

        self.module, self.folder, self.dice = module, folder, dice
        self.key, self.shelf = folder / "key", folder / "shelf"
        self.shelf.mkdir(parents=True)
        new_key(self.key)
        self.record = module.environment(folder / "old", "")
        module.run(self.record, "-m", "suffice.cli", "import", module.family_file(folder))
        self.restored = 0

    def _killed(self, environment: dict[str, str], *arguments: object) -> None:
        command = [sys.executable, "-m", "suffice.cli", *map(str, arguments)]
        process = subprocess.Popen(
            command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(self.dice.random() * LONGEST_S)
        process.kill()
        process.wait()

    def kill_backup(self) -> None:
        """A backup dies; what is on the shelf can be restored, and the next one is made."""
        self._killed(self.record, "backup", self.shelf, "--key", self.key)
        made = self.module.run(
            self.record, "-m", "suffice.cli", "backup", self.shelf, "--key", self.key
        )
        assert self.module.HELD in made, made
        kept = self._on_shelf()
        elsewhere = self.module.environment(self._next_home(), "")
        assert self.module.HELD in self._restore(self.dice.choice(kept), elsewhere)
        for one in kept[:-1]:
            one.unlink()

    def kill_restore(self) -> None:
        """A restore dies; what it left is nothing, and it can be done again, or all of it."""
        file = self._a_backup()
        said = self.module.environment(self._next_home(), "")
        self._killed(said, "restore", file, "--key", self.key)
        try:
            assert self.module.HELD in self._restore(file, said)
        except AssertionError:  # refused: something is there, so it must be everything
            assert "Svetlana" in self.module.run(said, "-m", "suffice.cli", "caseload")

    def _a_backup(self) -> Path:
        if not self._on_shelf():
            self.module.run(
                self.record, "-m", "suffice.cli", "backup", self.shelf, "--key", self.key
            )
        return self._on_shelf()[-1]

    def _on_shelf(self) -> list[Path]:
        """The backups, the oldest first; beside them are the keys of the families."""
        return sorted(self.shelf.glob("*.backup"))

    def _next_home(self) -> Path:
        self.restored += 1
        return self.folder / f"new-{self.restored}"

    def _restore(self, file: Path, environment: dict[str, str]) -> str:
        done: str = self.module.run(
            environment, "-m", "suffice.cli", "restore", file, "--key", self.key
        )
        return done


class Upgrading:
    """Upgrades that are killed at any moment, from each state of the tables that there ever was."""

    RESTORES_EACH = 4
    """Each so many kills the copy of before is restored as well."""

    def __init__(
        self, module: ModuleType, homes: dict[str, tuple[Path, str]], dice: random.Random
    ) -> None:
        self.module, self.homes, self.dice = module, homes, dice
        self.cases: dict[str, Any] = {}
        self.lasts_s: dict[str, float] = {}
        self.count = 0

    def kill(self) -> None:
        """One more upgrade dies; the record is whole between two of its steps, and the next start ends it."""
        state = list(self.homes)[self.count % len(self.homes)]
        self.count += 1
        if state not in self.cases:
            self.cases[state] = self.module.Case(*self.homes[state], state)
            self.lasts_s[state] = self.cases[state].undisturbed(time.monotonic)
        restores = self.count % self.RESTORES_EACH == 0
        after_s = self.dice.random() * self.lasts_s[state]
        self.cases[state].kill(after_s, restores=restores)


def upgrading(folder: Path, server: Any, dice: random.Random) -> tuple[Upgrading, Upgrading]:
    """Of each engine those whose upgrades are killed."""
    from fault import test_upgrade  # noqa: PLC0415

    on_sqlite = {state: (folder / f"from-{state}", "") for state in test_upgrade.STATES[:-1]}
    on_postgres = {
        state: (folder / f"pg-{state}", server.create_database(f"from_{state}"))
        for state in test_upgrade.ON_POSTGRES
    }
    return (
        Upgrading(test_upgrade, on_sqlite, dice),
        Upgrading(test_upgrade, on_postgres, dice),
    )


def tortures(
    folder: Path, server: Any, dice: random.Random
) -> tuple[dict[str, Callable[[], None]], tuple[Writing, Writing]]:
    """Everything that is killed, by what it is, called once for each kill; and who counts writes."""
    from fault import test_kill, test_kill_import, test_kill_restore  # noqa: PLC0415

    on_sqlite = Writing(test_kill, folder / "sqlite", "", dice)
    on_postgres = Writing(test_kill, folder / "pg", server.create_database("torture"), dice)
    importing = Importing(test_kill_import, folder / "import", "", dice)
    url = server.create_database("torture_import")
    importing_there = Importing(test_kill_import, folder / "import-pg", url, dice)
    keeping = Keeping(test_kill_restore, folder / "backup", dice)
    upgrades, upgrades_there = upgrading(folder, server, dice)
    kinds = {
        "writer, SQLite": on_sqlite.kill_writer,
        "writer, PostgreSQL": on_postgres.kill_writer,
        "backend of PostgreSQL": lambda: on_postgres.kill_backend(server, "torture"),
        "server of PostgreSQL": lambda: on_postgres.kill_server(server),
        "import, SQLite": importing.kill,
        "import, PostgreSQL": importing_there.kill,
        "backup": keeping.kill_backup,
        "restore": keeping.kill_restore,
        "upgrade, SQLite": upgrades.kill,
        "upgrade, PostgreSQL": upgrades_there.kill,
    }
    return kinds, (on_sqlite, on_postgres)


def main() -> int:
    """Kill, count and say; 1 where anything was lost."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    sys.path.insert(0, str(TESTS))
    from postgres import running  # noqa: PLC0415 -- a helper of the tests

    dice = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else SEED)
    lost: list[str] = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="suffice-torture-")))
        server = stack.enter_context(running(fsync=True))
        kinds, writing = tortures(folder, server, dice)
        done = dict.fromkeys(kinds, 0)
        bar = stack.enter_context(Progress())
        task = bar.add_task("killing", total=kills)
        for number in range(kills):
            name = list(kinds)[number % len(kinds)]
            try:
                kinds[name]()
            except AssertionError as error:
                lost.append(f"{name}, kill {number + 1}: {error!r}")
            done[name] += 1
            bar.update(task, advance=1)
        acknowledged = sum(one.acknowledged for one in writing)
    for name, count in done.items():
        print(f"{count:5} x {name}")
    print(f"{sum(done.values())} kills, {acknowledged} acknowledged entries, {len(lost)} losses")
    print("\n".join(lost))
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
