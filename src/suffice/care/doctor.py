"""The state of a record in plain words: one sign after another, each well or with what to do.

It reads only, brings nothing up to date, and says nothing about any family: counts, versions, times,
paths and names of users.
"""

from __future__ import annotations

import logging
import shutil
import traceback
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from enum import IntEnum
from importlib.metadata import version
from pathlib import Path

import msgspec
from django import db
from django.conf import settings
from django.db import DatabaseError, connection

from suffice.assess.engine.version import ENGINE_VERSION
from suffice.care import jobs, trail, uploads, verifying
from suffice.care.backup import reaching
from suffice.care.backup.shelf import last_good
from suffice.care.clinic.clinic import clinic
from suffice.errors import SufficeError
from suffice.knowledge.store import load
from suffice.message import Ago, Amount, Instant, Listed, Message, Words, message
from suffice.record import (
    accounts,
    append_only,
    erasure,
    reasons,
    state,
    verified,
    verify,
    whole,
    wiping,
)
from suffice.record import jobs as shelf

_DATABASE_LIBRARY = Path(db.__file__).parent
logger = logging.getLogger("suffice.doctor")

OPENED_WITHIN_H = 36
"""A backup every night, and half a day to notice that one is missing."""
FREE_LEAST_BYTES = 1_000_000_000
"""Room for the copies that a backup or an import makes beside a record of a few hundred families."""
FREE_OF_RECORD = 3
"""A backup copies the record once and unpacks it once; a third is left for what is entered."""
BYTES_PER_GB = 1_000_000_000
NAMED = 10
"""Users that are named; there may be as many as work here."""


class Health(IntEnum):
    """How a sign is, the worst last."""

    WELL = 0
    LOOK = 1
    AWAY = 2
    DAMAGED = 3


class Sign(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that was looked at.

    Attributes:
        name: What it is.
        state: How it is.
        fix: What to do; empty where it is well.
    """

    health: Health
    name: Message
    state: Words
    fix: Words = ""


def signs(now: datetime, *, with_pages: bool = True) -> Iterator[Sign]:
    """Look at a record, one thing after the other.

    What only tables that are up to date can say is left out where they are not.

    Args:
        now: The instant.
        with_pages: Whether every page of the database is read too, which takes as long as the record
            is large.

    Raises:
        DatabaseError: When the database cannot be read at all.
        ContentError: When the content of the program itself is at fault.
    """
    home = Path(settings.HOME)
    if not state.is_there() or not state.newest_migration():
        yield _look(
            RECORD,
            message("There is none in {home} yet.", home=str(home)),
            message("Name its folder with SUFFICE_HOME, or begin one: suffice serve."),
        )
        return
    tables = _tables()
    yield _engine()
    yield tables
    if with_pages:
        yield from _pages()
    if tables.health is Health.WELL:
        yield _asked(message("Triggers"), _triggers)
        yield _asked(message("Last whole check"), lambda: _whole_check(now))
        yield _asked(message("Clock"), lambda: _clock(now))
        yield _asked(message("Jobs"), lambda: _jobs(now))
        yield _asked(message("People"), _accounts)
        yield _asked(OWN_VALUES, _own_values)
    yield _asked(message("Last backup"), lambda: _backup(now))
    yield _asked(message("Erased families"), _erased)
    yield _room(home)
    yield _uploads()
    yield _asked(message("Trail"), _trail)
    yield _content()


RECORD = message("Record")
TABLES = message("Tables")
OWN_VALUES = message("Your own values")


def _well(name: Message, state: Words) -> Sign:
    return Sign(health=Health.WELL, name=name, state=state)


def _look(name: Message, state: Words, fix: Words) -> Sign:
    return Sign(health=Health.LOOK, name=name, state=state, fix=fix)


def _damaged(name: Message, state: Words, fix: Words) -> Sign:
    return Sign(health=Health.DAMAGED, name=name, state=state, fix=fix)


def _asked(name: Message, look: Callable[[], Sign]) -> Sign:
    """A sign; where what it looks at is gone or garbled, that this is so, and the others are asked on."""
    try:
        return look()
    except SufficeError as error:
        why: Words = error.problems[0].why
    except DatabaseError as error:
        why = reasons.why(error)
        if why in {reasons.UNREACHABLE, reasons.BUSY, reasons.REFUSED}:
            raise
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        if not _was_being_read(error):
            return _defect(name, error)
        why = message("What is stored there is not what the program stored.")
    return _damaged(
        name,
        message("Cannot be looked at. {why}", why=why),
        message("Stop the program, keep the folder, and restore the newest backup."),
    )


def _was_being_read(error: BaseException) -> bool:
    """Whether a value out of the database was being turned into one of ours when it failed.

    Only then is what is stored at fault: anything else that fails here is a defect of the program, for
    which nobody may be told to go back to an old copy.
    """
    return any(
        frame.name.startswith(("convert_", "from_db_value", "cursor_iter"))  # as Django calls it
        and _DATABASE_LIBRARY in Path(frame.filename).parents
        for frame in traceback.extract_tb(error.__traceback__)
    )


def _defect(name: Message, error: Exception) -> Sign:
    # Its words may quote what is stored; the log keeps where it was raised.
    logger.error("the doctor failed: %s", type(error).__name__, exc_info=error)
    return _look(
        name,
        message(
            "Was not looked at: the program failed ({kind}). That says nothing about the record.",
            kind=type(error).__name__,
        ),
        message("suffice verify says whether the record is whole. Report this, with the log."),
    )


def _engine() -> Sign:
    engine, key = state.engine_name(), settings.RECORD_KEY
    if key is not None:
        sentence = message("In {engine}, encrypted whole with the key {id}.", id=key.id.hex())
    else:
        sentence = message("In {engine}, not encrypted by the program: its disk must be.")
    return _well(RECORD, sentence.with_params(engine=engine))


def _tables() -> Sign:
    unknown = [name for app, name in whole.unknown_migrations(whole.migrations_run())]
    if unknown:
        return Sign(
            health=Health.AWAY,
            name=TABLES,
            state=message(
                "Made by a newer version of the program: {names}.", names=_listed(unknown)
            ),
            fix=message("Use the version that made them, or a newer one."),
        )
    pending = state.pending_migrations()
    newest = state.newest_migration()
    if pending:
        return _look(
            TABLES,
            message(
                "At {newest}, {count} step behind this version: {names}.",
                plural="At {newest}, {count} steps behind this version: {names}.",
                newest=newest,
                count=len(pending),
                names=_listed(pending),
            ),
            message("The next start brings them up to date; stop every other program before it."),
        )
    return _well(TABLES, message("Up to date, at {newest}.", newest=newest))


def _pages() -> Iterator[Sign]:
    name = message("Pages of the database")
    if not state.keeps_checksums():
        yield _look(
            name,
            message(
                "PostgreSQL keeps no checksums of them: a page that a disk changed is not noticed."
            ),
            message("Stop PostgreSQL once and switch them on: pg_checksums --enable."),
        )
        return
    found = verify.wrong_pages(whole=True)
    if found:
        yield _damaged(
            name,
            message("Damaged: {said}.", said=_listed([one.key for one in found[:NAMED]])),
            message("Stop the program, keep the file, and restore the newest backup."),
        )
    elif connection.vendor == "sqlite":
        yield _well(name, message("Every one was read and is sound."))
    else:
        yield _well(name, message("PostgreSQL keeps checksums of them."))


def _triggers() -> Sign:
    name, gone = message("Triggers"), append_only.missing(connection)
    if gone:
        return _damaged(
            name,
            message("Missing or altered: {names}.", names=_listed(gone)),
            message("suffice verify puts them back, and names what was changed meanwhile."),
        )
    return _well(name, message("All there: what is stored can be neither changed nor deleted."))


def _whole_check(now: datetime) -> Sign:
    name, last = message("Last whole check"), verified.last()
    if last is None:
        return _look(
            name,
            message("There was none yet."),
            message("suffice verify, or let the program run a night."),
        )
    age_h = _hours(now - last.began_at)
    known = verified.known()
    if known:
        return _damaged(
            name,
            message(
                "{ago}; {count} thing is wrong.",
                plural="{ago}; {count} things are wrong.",
                ago=Ago(age_h),
                count=len(known),
            ),
            message("suffice verify names them; docs/security.md says what to do then."),
        )
    state = message("{ago}, nothing wrong in {rows} rows.", ago=Ago(age_h), rows=last.row_count)
    if answered := verified.accepted_count():
        return _look(
            name,
            message(
                "{ago}; {count} thing is wrong and was accepted.",
                plural="{ago}; {count} things are wrong and were accepted.",
                ago=Ago(age_h),
                count=answered,
            ),
            message("suffice verify says which, by whom and why."),
        )
    if age_h > _hours(verifying.LONGEST):
        return _look(
            name, state, message("It is made every night while the program runs: let it run.")
        )
    return _well(name, state)


def _clock(now: datetime) -> Sign:
    name, wrong = message("Clock"), verifying.wrong_clock(now)
    if wrong is not None:
        return _look(name, wrong.why, wrong.fix)
    return _well(name, message("Not earlier than anything that is stored."))


def _jobs(now: datetime) -> Sign:
    name = message("Jobs")
    left = len(shelf.uncleared()) + shelf.silent_count(now - timedelta(seconds=jobs.SILENT_S))
    if left:
        return _look(
            name,
            message(
                "{count} is left of a program that was stopped.",
                plural="{count} are left of a program that was stopped.",
                count=left,
            ),
            message("The program clears up after them within a minute while it runs: start it."),
        )
    return _well(name, message("None is left over."))


def _accounts() -> Sign:
    name = message("People")
    active = [one for one in accounts.accounts() if one.is_active]
    bare = [one.name for one in active if not one.has_factor]
    if bare and clinic().policy.second_factor:
        return _look(
            name,
            message(
                "The policy asks for one-time codes, and {count} signs in without: {names}.",
                plural="The policy asks for one-time codes, and {count} sign in without: {names}.",
                count=len(bare),
                names=_listed(bare),
            ),
            message("Ask them to sign in once and set it up, or deactivate them: suffice user."),
        )
    if not any(one.is_administrator for one in active):
        return _look(
            name,
            message("Nobody who can sign in looks after the accounts."),
            message("suffice user duty NAME administrator"),
        )
    return _well(
        name,
        message(
            "{count} person can sign in; without a one-time code: {bare}.",
            plural="{count} people can sign in; without a one-time code: {bare}.",
            count=len(active),
            bare=len(bare),
        ),
    )


def _own_values() -> Sign:
    here = clinic()
    gone = here.policy.passed_over(here.content)
    if gone:
        return _look(
            OWN_VALUES,
            message(
                "{count} is not in force: this version cannot work with it, and ours is used: {names}.",
                plural="{count} are not in force: this version cannot work with them, and ours are used: {names}.",
                count=len(gone),
                names=_listed(sorted(gone)),
            ),
            message(
                "A lead or an administrator enters others, or leaves them empty, under Policy."
            ),
        )
    if not here.policy.constants:
        return _well(OWN_VALUES, message("None: ours are used."))
    return _well(OWN_VALUES, message("All in force: {count}.", count=len(here.policy.constants)))


def _backup(now: datetime) -> Sign:
    name, last = message("Last backup"), last_good()
    make_one = message("Let suffice backup run every night (docs/backup.md).")
    if last is None:
        return _look(name, message("No backup has been made and checked."), make_one)
    age_h = _hours(now - last.made_at)
    state = message("{path}, opened {ago}.", path=last.path, ago=Ago(age_h))
    if not Path(last.path).is_file():
        gone = message("{path} is not there any more: removed, or its disk is not mounted.")
        return _look(name, gone.with_params(path=last.path), make_one)
    return _well(name, state) if 0 <= age_h <= OPENED_WITHIN_H else _look(name, state, make_one)


def _erased() -> Sign:
    name, families = message("Erased families"), [one.family_id for one in erasure.every()]
    if folders := reaching.owed(families):
        return _look(
            name,
            message("Can still be read in the backups in {folders}.", folders=_listed(folders)),
            message(
                "Mount what they are on and see that the program may write there and read their key; or make"
                " a backup there. For a folder that is gone for good: suffice backup --forget FOLDER."
            ),
        )
    if wiping.is_owed():
        return _look(
            name,
            message("What was erased is still in free places of the file of the database."),
            message(
                "It is wiped in the next night in which nobody works, or when the server is started."
            ),
        )
    if not families:
        return _well(name, message("None."))
    return _well(
        name,
        message(
            "{count} was erased, in every folder of backups too.",
            plural="{count} were erased, in every folder of backups too.",
            count=len(families),
        ),
    )


def _room(home: Path) -> Sign:
    name, (free_bytes, needed_bytes) = message("Room on the disk"), room(home)
    state = message("{free} free.", free=Amount(free_bytes / BYTES_PER_GB, "GB", decimals=1))
    if free_bytes < needed_bytes:
        fix = message("Make room: without it nothing can be saved, and no backup made.")
        return _look(name, state, fix)
    return _well(name, state)


def room(home: Path) -> tuple[int, int]:
    """Free bytes on the disk of a record, and how many there should be."""
    record = home / "suffice.sqlite3"
    size_bytes = record.stat().st_size if record.exists() else 0
    return shutil.disk_usage(home).free, max(FREE_LEAST_BYTES, FREE_OF_RECORD * size_bytes)


def _uploads() -> Sign:
    name, (waiting, past) = message("Uploads"), uploads.counts()
    if past:
        return _look(
            name,
            message("{count} is past its day.", plural="{count} are past their day.", count=past),
            message("The program removes them within a minute while it runs: start it."),
        )
    return _well(name, message("{count} waiting, none past its day.", count=waiting))


def _trail() -> Sign:
    name, waiting = message("Trail"), trail.waiting_since()
    if waiting is None:
        return _well(name, message("Nothing waits to be stored."))
    return _look(
        name,
        message("Events wait in a file since {at}.", at=Instant(waiting, year=True)),
        message(
            "They are stored within a second while the program runs: start it, or see its log."
        ),
    )


def _content() -> Sign:
    return _well(
        message("Versions"),
        message(
            "Program {program}, content {content}, engine {engine}.",
            program=version("suffice"),
            content=load().version,
            engine=ENGINE_VERSION,
        ),
    )


def _listed(names: Iterable[str]) -> Listed:
    every = list(names)
    if len(every) <= NAMED:
        return Listed(tuple(every))
    return Listed((*every[:NAMED], message("{count} more", count=len(every) - NAMED)))


def _hours(span: timedelta) -> float:
    return span / timedelta(hours=1)
