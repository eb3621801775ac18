"""Files on their way in: kept beside the record between preview and import, and the long ones' work.

A file is kept under a random name that only the browser session which sent it knows, readable by
the program's own user, and removed when it was imported or after a day.

While an import is at work it gives a sign of life every second. Where the signs have ceased before it
ended (the program was stopped), it was interrupted; and since a table goes onto the record whole or
not at all, one of its entries tells whether it was written.
"""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Event, Thread
from uuid import UUID, uuid4

import msgspec
from django.conf import settings
from django.db import connections
from django.utils import timezone
from django.utils.translation import get_language, override

from suffice.care.family.transfer import Imported, import_csv, is_on_record
from suffice.errors import Problem, SufficeError
from suffice.exchange.table.options import CsvOptions
from suffice.web.fields.spoken import told as in_language
from suffice.web.incident import new_number, report
from suffice.web.shown.wording import in_words

logger = logging.getLogger("suffice.import")

KEPT_S = 24 * 60 * 60
LONG_BYTES = 200_000
"""From this size on the work is done in a thread of its own, and the page shows how far it is."""
PROBLEMS_SHOWN = 200
SIGN_OF_LIFE_S = 1.0
SILENT_S = 15.0
"""An import that gave no sign of life for so long is not at work any more."""


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """A problem as it is kept in a state file."""

    code: str
    words: str
    where: str
    doubtful: bool


class State(msgspec.Struct, kw_only=True):
    """How far an import is, or how it ended."""

    stage: str = "reading"
    done: int = 0
    total: int = 0
    ended: bool = False
    problems: tuple[Told, ...] = ()
    problems_count: int = 0
    families_count: int = 0
    opened_count: int = 0
    entries_count: int = 0
    repeated_count: int = 0
    rows_count: int = 0
    incident: str = ""
    family: str = ""
    """The family of a family file."""
    one_entry: str = ""
    """One of the entries that are about to be stored: it is there when all of them are."""
    adding_count: int = 0
    """How many they are."""
    interrupted: bool = False
    written: bool = False
    """Of an interrupted one: whether its entries are on the record all the same."""


def folder() -> Path:
    """Where files wait; made readable by the program's own user only."""
    path = Path(settings.HOME) / "imports"
    path.mkdir(mode=0o700, exist_ok=True)
    return path


def keep(content: bytes) -> UUID:
    """Keep a file and return the name under which it waits; old ones are swept away."""
    sweep()
    name = uuid4()
    path = folder() / f"{name}.file"
    path.touch(mode=0o600)
    path.write_bytes(content)
    return name


def kept(name: UUID) -> bytes | None:
    """A file that waits; None when it is gone."""
    path = folder() / f"{name}.file"
    return path.read_bytes() if path.exists() else None


def forget(name: UUID) -> None:
    """Remove a file."""
    (folder() / f"{name}.file").unlink(missing_ok=True)


def sweep() -> None:
    """Remove what nobody has come back for."""
    limit = time.time() - KEPT_S  # the age of a file on disk, not of anything clinical
    for path in folder().iterdir():
        if path.stat().st_mtime < limit:
            path.unlink(missing_ok=True)


def told(problems: tuple[Problem, ...]) -> tuple[Told, ...]:
    """Problems as a page lists them."""
    return tuple(
        Told(
            code=one.code,
            words=in_language(one),
            where=_place(one.where),
            doubtful=one.doubtful,
        )
        for one in problems[:PROBLEMS_SHOWN]
    )


def _place(where: str) -> str:
    """Row and column: 'row' is our word, the column's name is the file's."""
    row, comma, column = where.partition(", ")
    return f"{in_words(row)}{comma}{column}"


def state_of(name: UUID) -> State | None:
    """How far an import is; None when none was begun."""
    path = folder() / f"{name}.state"
    return msgspec.json.decode(path.read_bytes(), type=State) if path.exists() else None


def seen(name: UUID) -> State | None:
    """How far an import is by now: one that fell silent before it ended was interrupted."""
    state = state_of(name)
    if state is None or state.ended:
        return state
    path = folder() / f"{name}.state"
    silent_s = time.time() - path.stat().st_mtime  # the age of a file on disk
    if silent_s > SILENT_S:
        state.ended = state.interrupted = True
        state.written = bool(state.one_entry) and is_on_record(UUID(state.one_entry))
    return state


def end_of_family(name: UUID, done: Imported) -> None:
    """Note how the import of a family file ended, and remove the file."""
    state = State(stage="done", ended=True, family=str(done.family_id), families_count=1)
    state.opened_count = int(done.is_new)
    state.entries_count = len(done.appended.new)
    state.repeated_count = len(done.appended.already_there)
    _tell(name, state)
    forget(name)


@contextmanager
def alive(name: UUID) -> Iterator[None]:
    """Signs of life of an import for the length of the block."""
    over = Event()

    def sign() -> None:
        while not over.wait(SIGN_OF_LIFE_S):
            with suppress(FileNotFoundError):
                os.utime(folder() / f"{name}.state")

    thread = Thread(target=sign, name="sign of life", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def begin(name: UUID, options: CsvOptions, family_id: UUID | None) -> State:
    """Import a file that waits: at once when it is short, else in a thread of its own."""
    content = kept(name) or b""
    state = State()
    _tell(name, state)
    if len(content) < LONG_BYTES:
        _work(name, content, options, family_id)
    else:
        language = get_language() or "en"
        Thread(
            target=_apart,
            args=(name, content, options, family_id, language),
            name="import",
            daemon=True,
        ).start()
    return state_of(name) or state


def _apart(
    name: UUID, content: bytes, options: CsvOptions, family_id: UUID | None, language: str
) -> None:
    try:
        with override(language):  # a thread begins with the language of no page
            _work(name, content, options, family_id)
    finally:
        connections.close_all()


def _work(name: UUID, content: bytes, options: CsvOptions, family_id: UUID | None) -> None:
    state = State()

    def stage(word: str) -> Progress:
        return Progress(name, state, word)

    def adding(one: UUID, count: int) -> None:
        state.one_entry, state.adding_count = str(one), count
        _tell(name, state)

    try:
        with alive(name):
            done = import_csv(
                content,
                options,
                now=timezone.now(),
                family_id=family_id,
                reading=stage("reading"),
                storing=stage("storing"),
                assessing=stage("assessing"),
                adding=adding,
            )
    except SufficeError as refusal:
        state.problems = told(refusal.problems)
        state.problems_count = len(refusal.problems)
    except Exception as error:  # noqa: BLE001  # a bug of ours: told by its number, kept in the log
        state.incident = new_number()
        report(state.incident, "import of a table", error)
    else:
        state.families_count = len(done.family_ids)
        state.opened_count = done.opened_count
        state.entries_count = done.entry_count
        state.repeated_count = done.read.repeated_count
        state.rows_count = done.read.row_count
        state.problems = told(done.read.left_out)
        state.problems_count = len(done.read.left_out)
        state.stage = "done"
        forget(name)
    state.ended = True
    _tell(name, state)


class Progress:
    """Writes how far a stage is, a few times a second at most."""

    def __init__(self, name: UUID, state: State, word: str) -> None:
        self.name, self.state, self.word, self.last_s = name, state, word, 0.0

    def __call__(self, done: int, total: int) -> None:
        """Note that `done` of `total` are done."""
        self.state.stage, self.state.done, self.state.total = self.word, done, total
        now_s = time.monotonic()
        if now_s - self.last_s > 0.25 or done == total:
            self.last_s = now_s
            _tell(self.name, self.state)


def _tell(name: UUID, state: State) -> None:
    path = folder() / f"{name}.state"
    written = path.with_suffix(".state-new")
    written.write_bytes(msgspec.json.encode(state))
    written.replace(path)  # a reader sees the whole state or the one before
