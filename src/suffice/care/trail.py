"""The trail of what people did and saw: noted at once, stored a moment later, read by who may.

Whoever asks for a page does not wait for the store: an event is written to a file beside the record
(`trail/spool`), which outlives the process, and a thread brings the file into the database four times
a second. What the store cannot take stays in the file. Events that change or carry off something are
forced to the disk before the answer; a read could be lost by a power cut within that moment.
"""

from __future__ import annotations

import fcntl
import logging
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from threading import Thread
from uuid import UUID, uuid4

import msgspec
from django.conf import settings
from django.db import connections

from suffice.errors import StorageError
from suffice.message import Message, message
from suffice.record import trail
from suffice.record.trail import Asked, Event, Kept

__all__ = ["Asked", "Event", "Kept"]

logger = logging.getLogger("suffice.trail")

OWNERS, OWNERS_FOLDER = 0o600, 0o700
EVERY_S = 0.25
"""From one look at the file to the next: soon enough for who reads the trail."""
TOGETHER = 500
"""Events of one transaction."""
QUIET_FOR = timedelta(minutes=10)
ON_ITS_WAY_S = 60
"""An event that waits for longer is not on its way any more."""


class Act(StrEnum):
    """What somebody did."""

    SIGN_IN = "sign-in"
    SIGN_IN_FAILED = "sign-in-failed"
    SIGN_OUT = "sign-out"
    LIST = "list"
    SEARCH = "search"
    READ = "read"
    PRINT = "print"
    EXPORT = "export"
    ENTER = "enter"
    IMPORT = "import"
    POLICY = "policy"
    PEOPLE = "people"
    ACCOUNT = "account"
    TRAIL = "trail"
    RECORD = "record"


ACT_NAMES: dict[Act, Message] = {
    Act.SIGN_IN: message("signed in"),
    Act.SIGN_IN_FAILED: message("was refused at sign-in"),
    Act.SIGN_OUT: message("signed out"),
    Act.LIST: message("listed families"),
    Act.SEARCH: message("searched for a name"),
    Act.READ: message("read"),
    Act.PRINT: message("asked for on paper"),
    Act.EXPORT: message("exported"),
    Act.ENTER: message("entered"),
    Act.IMPORT: message("imported"),
    Act.POLICY: message("changed the policy"),
    Act.PEOPLE: message("changed who may sign in"),
    Act.ACCOUNT: message("changed their account"),
    Act.TRAIL: message("read the trail"),
    Act.RECORD: message("looked after the record"),
}
FORCED = frozenset(Act) - {Act.LIST, Act.SEARCH, Act.READ, Act.ENTER}
"""Written through to the disk at once. What is entered is on the record itself by then."""
SEEN = frozenset({Act.READ, Act.PRINT, Act.EXPORT, Act.ENTER})
"""Acts by which somebody has seen a family."""


def note(
    act: Act, *, who: str, page: str, now: datetime, family_id: UUID | None = None, **more: object
) -> None:
    """Note an event; never fails, and never waits for the store.

    Args:
        act: What was done.
        who: The name that the person signs in with; empty where nobody was signed in.
        page: The name of the page's address, or of the command.
        now: The instant.
        family_id: The family that it was about.
        more: Further fields of :class:`Event`.
    """
    event = msgspec.convert(
        {"id": uuid4(), "at": now, "who": who, "act": act, "page": page, "family_id": family_id}
        | more,
        Event,
    )
    try:
        with _spool(os.O_WRONLY | os.O_CREAT | os.O_APPEND) as descriptor:
            os.write(descriptor, msgspec.json.encode(event) + b"\n")
            if act in FORCED:
                os.fsync(descriptor)
    except OSError as error:
        # Nobody is kept from a record because this cannot be written, such as on a full disk.
        logger.error("an event was not noted: %s by %s: %s", act, who, type(error).__name__)  # noqa: TRY400


def flush() -> int:
    """Bring what was noted into the database; how many events. What it cannot take stays.

    Raises:
        StorageError: RECORD-009.
    """
    folder, stored = _folder(), 0
    with _locked(folder / "flush.lock"):
        _set_aside(folder)
        for part in sorted(folder.glob("*.part")):
            events = list(_events(part))
            for start in range(0, len(events), TOGETHER):
                stored += trail.put(events[start : start + TOGETHER])
            part.unlink()
    return stored


def waiting_since() -> datetime | None:
    """When the oldest event was noted that is not stored yet, roughly; None where none waits.

    What was noted in the last moments does not count: it is on its way.
    """
    folder = Path(settings.HOME) / "trail"
    files = folder.iterdir() if folder.is_dir() else ()
    times = [
        one.stat().st_mtime for one in files if one.name != "flush.lock" and one.stat().st_size
    ]
    if not times or min(times) > time.time() - ON_ITS_WAY_S:
        return None
    return datetime.fromtimestamp(min(times), UTC)


def keep_flushing() -> None:
    """Flush four times a second, in a thread; one that fails tries again."""

    def go_on() -> None:
        failed = False
        while True:
            time.sleep(EVERY_S)
            if not any(one.name != "flush.lock" for one in _folder().iterdir()):
                continue
            try:
                flush()
                failed = False
            except (StorageError, OSError) as error:
                if not failed:
                    logger.warning("the trail waits in its file: %s", type(error).__name__)
                failed = True
                connections.close_all()

    Thread(target=go_on, name="trail", daemon=True).start()


def _folder() -> Path:
    folder = Path(settings.HOME) / "trail"
    folder.mkdir(mode=OWNERS_FOLDER, exist_ok=True)
    return folder


@contextmanager
def _spool(flags: int) -> Iterator[int]:
    """The file that events are written to, locked, and not one that is being set aside."""
    path = _folder() / "spool"
    while True:
        descriptor = os.open(path, flags, OWNERS)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            if _is_at(path, descriptor):
                yield descriptor
                return
        finally:
            os.close(descriptor)


def _is_at(path: Path, descriptor: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except FileNotFoundError:
        return False


def _set_aside(folder: Path) -> None:
    """Give what was noted so far a name of its own; who notes more begins a new file."""
    try:
        with _spool(os.O_WRONLY):
            (folder / "spool").rename(folder / f"{time.time_ns():020}.part")
    except FileNotFoundError:
        return


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, OWNERS)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _events(part: Path) -> Iterator[Event]:
    """The events of a file; a line that a full disk cut off is left out and said."""
    for line in part.read_bytes().splitlines():
        try:
            yield msgspec.json.decode(line, type=Event)
        except msgspec.DecodeError:
            logger.error("an event was cut off and is lost")  # noqa: TRY400 -- its text is no message


def events(asked: Asked, *, most: int, before: int | None = None) -> list[Kept]:
    """Events, the newest first, what was noted a moment ago included.

    Raises:
        StorageError: RECORD-009.
    """
    flush()
    return trail.newest(asked, most=most, before=before)


def is_quiet(now: datetime) -> bool:
    """Whether nobody has done or looked at anything for a while."""
    return not events(Asked(since=now - QUIET_FOR), most=1)


def every(asked: Asked) -> Iterator[Event]:
    """All events that are asked for, the oldest first.

    Raises:
        StorageError: RECORD-009.
    """
    flush()
    return trail.every(asked)
