"""A clinic at work: readers, writers and devices that look again, against one server for minutes.

    python -m tools.attack.load [--seconds 300] [--families 2000] [--engine sqlite|postgres|both]

Readers open the list or a family every few seconds, writers enter a note, and look whether it is
there at the end; devices ask for the list once a minute, as one does that is left open.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlencode
from uuid import uuid4

from tools.attack.server import HOST, Server, environment_of, running, suffice
from tools.attack.wire import Timings

ROOT = Path(__file__).resolve().parents[2]
TOKEN = "t" * 32
SAMPLE_S = 10.0


@dataclass
class Device:
    """One signed-in browser that keeps its connection."""

    port: int
    session: str
    _streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(
        self, method: str, path: str, fields: dict[str, str] | None = None
    ) -> tuple[int, str]:
        """Status and body of an answer.

        Raises:
            OSError, EOFError: When the connection breaks.
        """
        body = urlencode(fields).encode() if fields else b""
        head = (
            f"{method} {path} HTTP/1.1\r\nHost: localhost\r\nContent-Length: {len(body)}\r\n"
            f"Cookie: sessionid={self.session}; csrftoken={TOKEN}\r\n"
            "Content-Type: application/x-www-form-urlencoded\r\n\r\n"
        )
        is_kept = self._streams is not None
        if self._streams is None:
            self._streams = await asyncio.open_connection(HOST, self.port)
        reader, writer = self._streams
        try:
            writer.write(head.encode() + body)
            answered = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").lower()
        except (OSError, EOFError):
            self.close()
            if is_kept:  # closed while it was idle: a browser asks anew
                return await self.ask(method, path, fields)
            raise
        try:
            length = re.search(r"content-length: (\d+)", answered)
            got = await reader.readexactly(int(length.group(1)) if length else 0)
        except BaseException:
            self.close()
            raise
        if "connection: close" in answered:
            self.close()
        return int(answered.split(" ", 2)[1]), got.decode("utf-8", "replace")

    def close(self) -> None:
        """Let the connection go."""
        if self._streams:
            self._streams[1].close()
            self._streams = None


@dataclass
class Work:
    """What was done, and what came of it."""

    families: list[str]
    ends_at: float
    read: Timings = field(default_factory=Timings)
    saved: Timings = field(default_factory=Timings)
    polled: Timings = field(default_factory=Timings)
    acknowledged: Counter[str] = field(default_factory=Counter)
    memory_mb: list[float] = field(default_factory=list)
    processor_s: float = 0.0

    async def _timed(self, timings: Timings, device: Device, method: str, path: str,
                     fields: dict[str, str] | None = None) -> tuple[int, str]:  # fmt: skip
        status, text = 0, ""
        with timings.timing(path):
            status, text = await device.ask(method, path, fields)
            timings.note(path, status)
        return status, text

    async def _pause(self, dice: random.Random, seconds: float) -> None:
        await asyncio.sleep(dice.uniform(0.4 * seconds, 1.6 * seconds))

    async def reads(self, device: Device, dice: random.Random, every_s: float) -> None:
        """A reader: the list, a family, the list."""
        while time.monotonic() < self.ends_at:
            await self._pause(dice, every_s)
            path = "/" if dice.random() < 0.4 else f"/families/{dice.choice(self.families)}/"
            await self._timed(self.read, device, "GET", path)

    async def polls(self, device: Device, dice: random.Random, every_s: float) -> None:
        """A device that is left open."""
        while time.monotonic() < self.ends_at:
            await self._pause(dice, every_s)
            await self._timed(self.polled, device, "GET", "/")

    async def writes(self, device: Device, dice: random.Random, every_s: float) -> None:
        """A writer: a note into a family."""
        while time.monotonic() < self.ends_at:
            await self._pause(dice, every_s)
            family = dice.choice(self.families)
            fields = {
                "csrfmiddlewaretoken": TOKEN, "entry_id": str(uuid4()), "basis": "observed",
                "when": f"{datetime.now(UTC):%Y-%m-%dT%H:%M}", "text": "Load", "infant": "parent",
            }  # fmt: skip
            status, _ = await self._timed(
                self.saved, device, "POST", f"/families/{family}/enter/note/", fields
            )
            if status == 302:
                self.acknowledged[family] += 1
            else:
                self.saved.failed.append(f"{status} instead of 302")

    async def watches(self, server: Server) -> None:
        """The memory of the server, now and then, and its processor time in all."""
        began_s = server.processor_s()
        while time.monotonic() < self.ends_at:
            self.memory_mb.append(server.resident_mb())
            await asyncio.sleep(SAMPLE_S)
        self.processor_s = server.processor_s() - began_s


async def _at_work(server: Server, made: dict[str, list[str]], asked: argparse.Namespace) -> Work:
    dice = random.Random(1)
    work = Work(made["families"], time.monotonic() + asked.seconds)
    sessions = iter(made["sessions"])
    kinds = [(work.reads, asked.readers, asked.every), (work.writes, asked.writers, asked.every),
             (work.polls, asked.devices, 60.0)]  # fmt: skip
    tasks = [
        asyncio.create_task(
            act(Device(server.port, next(sessions)), random.Random(dice.random()), every)
        )
        for act, count, every in kinds
        for _ in range(count)
    ]
    await asyncio.gather(*tasks, work.watches(server))
    return work


def _lost(server: Server, work: Work, session: str) -> int:
    """How many acknowledged notes the families' exports do not hold."""
    device = Device(server.port, session)

    async def count() -> int:
        lost = 0
        for family, acknowledged in work.acknowledged.items():
            _, text = await device.ask("GET", f"/families/{family}/export/")
            entries = json.loads(text)["entries"]
            stored = sum(one["fact"].get("text") == "Load" for one in entries)
            lost += max(0, acknowledged - stored)
        device.close()
        return lost

    return asyncio.run(count())


def measured(asked: argparse.Namespace, database_url: str) -> Iterator[str]:
    """The figures of one engine, a line each."""
    with tempfile.TemporaryDirectory(prefix="suffice-load-") as folder:
        home = Path(folder)
        environment = environment_of(home, database_url)
        suffice(
            environment, "user", "add", "consultant", "--admin", asked="four quiet words here\n"
        )
        (home / "added").touch()
        count = asked.readers + asked.writers + asked.devices
        said = subprocess.run(
            [sys.executable, "-m", "tools.attack.filled", str(asked.families), str(asked.entries), str(count)],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=True,
        )  # fmt: skip
        made = json.loads(said.stdout.splitlines()[-1])
        yield f"{asked.families} families of {asked.entries} entries, assessed in {made['assessed_s']:.0f} s"
        with running(home=home, database_url=database_url) as server:
            work = asyncio.run(_at_work(server, made, asked))
            yield f"read: {work.read}"
            yield f"saved: {work.saved}"
            yield f"devices: {work.polled}"
            first, last = work.memory_mb[len(work.memory_mb) // 4], work.memory_mb[-1]
            yield f"processor time of the server: {work.processor_s:.0f} s in {asked.seconds:.0f} s"
            yield f"memory: {first:.0f} MB after a quarter, {last:.0f} MB at the end"
            lost = _lost(server, work, made["sessions"][0])
            yield f"acknowledged {sum(work.acknowledged.values())}, lost {lost}"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="make load")
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument("--families", type=int, default=2000)
    parser.add_argument("--entries", type=int, default=40)
    parser.add_argument("--readers", type=int, default=50)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--devices", type=int, default=200)
    parser.add_argument(
        "--every", type=float, default=20.0, help="seconds between two acts of a person"
    )
    parser.add_argument("--engine", choices=["sqlite", "postgres", "both"], default="both")
    asked = parser.parse_args()
    sys.path.insert(0, str(ROOT / "tests"))
    from postgres import running as postgres  # noqa: PLC0415 -- a helper of the tests

    for engine in ("sqlite", "postgres") if asked.engine == "both" else (asked.engine,):
        with ExitStack() as stack:
            url = ""
            if engine == "postgres":
                url = stack.enter_context(postgres(fsync=True)).create_database("load")
            for line in measured(asked, url):
                print(f"{engine}: {line}", flush=True)


if __name__ == "__main__":
    main()
