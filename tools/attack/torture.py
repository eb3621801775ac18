"""Kills in the middle of everything that writes, and a count of what was lost of what was acknowledged.

    python -m tools.attack.torture [KILLS] [SEED]

The writers, importers, restorers and upgrades are those of tests/fault; here they are killed as often as is
asked, each time at another moment, on both engines, several kinds beside one another. A record is looked
at after each kill, past the program that wrote it. Programs are started by :mod:`tools.attack.ready`: most
of the time of a start goes into loading modules, which nothing hangs on here.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import psycopg
from rich.progress import Progress

from tools.attack.ready import Ready

TESTS = Path(__file__).resolve().parents[2] / "tests"
SEED = 20261129
BATCHES = 1_000_000
MARGIN = 1.1
"""A kill comes at any moment of what lasted so long the last time, or just after its end."""


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

    def __init__(self, module: ModuleType, folder: Path, dice: random.Random, ready: Ready) -> None:
        from suffice.care.backup.key import new_key  # noqa: PLC0415 -- from the project itself

        self.module, self.folder, self.dice, self.ready = module, folder, dice, ready
        self.key, self.shelf = folder / "key", folder / "shelf"
        self.shelf.mkdir(parents=True)
        new_key(self.key)
        self.record = module.environment(folder / "old", "")
        module.run(self.record, "-m", "suffice.cli", "import", module.family_file(folder))
        self.restored = 0
        self.lasts_s: dict[str, float] = {}
        self._backed_up()
        self._restore(self._on_shelf()[-1], module.environment(self._next_home(), ""))

    def _killed(self, environment: dict[str, str], act: str, *arguments: object) -> None:
        command = [sys.executable, "-m", "suffice.cli", act, *map(str, arguments)]
        process = self.ready.Popen(
            command, env=environment, stdout=self.ready.DEVNULL, stderr=self.ready.DEVNULL
        )
        time.sleep(self.dice.random() * self.lasts_s[act] * MARGIN)
        process.kill()
        process.wait()

    def _timed(self, environment: dict[str, str], act: str, *arguments: object) -> str:
        """Do it undisturbed; how long that took says when the next one may be killed."""
        began_s = time.monotonic()
        done: str = self.module.run(environment, "-m", "suffice.cli", act, *arguments)
        self.lasts_s[act] = time.monotonic() - began_s
        return done

    def _backed_up(self) -> str:
        return self._timed(self.record, "backup", self.shelf, "--key", self.key)

    def kill_backup(self) -> None:
        """A backup dies; what is on the shelf can be restored, and the next one is made."""
        self._killed(self.record, "backup", self.shelf, "--key", self.key)
        made = self._backed_up()
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
            self._backed_up()
        return self._on_shelf()[-1]

    def _on_shelf(self) -> list[Path]:
        """The backups, the oldest first; beside them are the keys of the families."""
        return sorted(self.shelf.glob("*.backup"))

    def _next_home(self) -> Path:
        self.restored += 1
        return self.folder / f"new-{self.restored}"

    def _restore(self, file: Path, environment: dict[str, str]) -> str:
        return self._timed(environment, "restore", file, "--key", self.key)


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


def upgrading(
    module: ModuleType, folder: Path, server: Any, dice: Iterator[random.Random]
) -> tuple[Upgrading, Upgrading]:
    """Of each engine those whose upgrades are killed."""
    on_sqlite = {state: (folder / f"from-{state}", "") for state in module.STATES[:-1]}
    on_postgres = {
        state: (folder / f"pg-{state}", server.create_database(f"from_{state}"))
        for state in module.ON_POSTGRES
    }
    return Upgrading(module, on_sqlite, next(dice)), Upgrading(module, on_postgres, next(dice))


@dataclass
class Lane:
    """Kinds of kills that share a record or a server, and so come one after the other.

    Attributes:
        kinds: What is called for each kill, by what it is.
        done: How often that was.
        lost: What was found to be wrong.
        failed: What kept a kill, or the look after it, from being done; nothing is known of those.
    """

    kinds: dict[str, Callable[[], None]]
    done: dict[str, int] = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    def kill(self, times: dict[str, int], after_each: Callable[[], None]) -> None:
        """Kill each kind as often as is asked, by turns."""
        for number in range(max(times[name] for name in self.kinds)):
            for name, act in self.kinds.items():
                if number >= times[name]:
                    continue
                try:
                    act()
                except AssertionError as error:
                    self.lost.append(f"{name}, kill {number + 1}: {error!r}")
                except Exception as error:  # noqa: BLE001 -- the lanes beside it, and the count, go on
                    where = traceback.format_exc(limit=-3)
                    self.failed.append(f"{name}, kill {number + 1}: {error!r}\n{where}")
                self.done[name] = self.done.get(name, 0) + 1
                after_each()


def lanes(
    folder: Path, servers: tuple[Any, Any], ready: Ready, dice: Iterator[random.Random]
) -> tuple[list[Lane], tuple[Writing, Writing]]:
    """Everything that is killed, and who counts writes; one server is killed itself, the other is not."""
    from fault import (  # noqa: PLC0415 -- from the tests, whose folder main adds
        test_kill,
        test_kill_import,
        test_kill_restore,
        test_upgrade,
    )

    for module in (test_kill, test_kill_import, test_kill_restore, test_upgrade):
        module.subprocess = ready
    torn, whole = servers
    on_sqlite = Writing(test_kill, folder / "sqlite", "", next(dice))
    on_postgres = Writing(test_kill, folder / "pg", torn.create_database("torture"), next(dice))
    importing = Importing(test_kill_import, folder / "import", "", next(dice))
    url = whole.create_database("torture_import")
    importing_there = Importing(test_kill_import, folder / "import-pg", url, next(dice))
    keeping = Keeping(test_kill_restore, folder / "backup", next(dice), ready)
    upgrades, upgrades_there = upgrading(test_upgrade, folder, whole, dice)
    found = [
        Lane({"upgrade, SQLite": upgrades.kill}),
        Lane({"upgrade, PostgreSQL": upgrades_there.kill}),
        Lane({"backup": keeping.kill_backup, "restore": keeping.kill_restore}),
        Lane({"import, SQLite": importing.kill}),
        Lane({"import, PostgreSQL": importing_there.kill}),
        Lane(
            {
                "writer, PostgreSQL": on_postgres.kill_writer,
                "backend of PostgreSQL": lambda: on_postgres.kill_backend(torn, "torture"),
                "server of PostgreSQL": lambda: on_postgres.kill_server(torn),
            }
        ),
        Lane({"writer, SQLite": on_sqlite.kill_writer}),
    ]
    return found, (on_sqlite, on_postgres)


def main() -> int:
    """Kill, count and say; 1 where anything was lost, or a kill could not be looked at."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    sys.path.insert(0, str(TESTS))
    from postgres import running  # noqa: PLC0415 -- a helper of the tests

    dice = (random.Random(seed + number) for number in range(kills))
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="suffice-torture-")))
        ready = stack.enter_context(Ready(folder))
        servers = (
            stack.enter_context(running(fsync=True)),
            stack.enter_context(running(fsync=True)),
        )
        every, writing = lanes(folder, servers, ready, dice)
        names = [name for lane in every for name in lane.kinds]
        share, more = divmod(kills, len(names))
        times = {name: share + (place < more) for place, name in enumerate(names)}
        bar = stack.enter_context(Progress())
        task = bar.add_task("killing", total=kills)
        pool = stack.enter_context(ThreadPoolExecutor(max_workers=(os.cpu_count() or 1) + 1))
        for done in [pool.submit(lane.kill, times, lambda: bar.advance(task)) for lane in every]:
            done.result()
        acknowledged = sum(one.acknowledged for one in writing)
    return said(every, kills, acknowledged)


def said(every: list[Lane], kills: int, acknowledged: int) -> int:
    """Print what was done and what was wrong; 0 where all was done and nothing lost."""
    lost = [one for lane in every for one in lane.lost]
    failed = [one for lane in every for one in lane.failed]
    for lane in every:
        for name, count in lane.done.items():
            print(f"{count:5} x {name}")
    wrong = f"{len(lost)} losses, {len(failed)} failures of the run itself"
    print(f"{kills} kills, {acknowledged} acknowledged entries, {wrong}")
    print("\n".join([*lost, *failed]))
    return 1 if lost or failed else 0


if __name__ == "__main__":
    sys.exit(main())
