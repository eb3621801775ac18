"""``suffice encrypt`` and ``suffice decrypt``: the SQLite record encrypted whole, with another key, or no more."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from suffice.cli.console import print_words
from suffice.cli.noted import note_command
from suffice.cli.serving import served_at
from suffice.cli.store import in_turn, open_record
from suffice.errors import InputError, Problem, StorageError
from suffice.message import Words, message

if TYPE_CHECKING:
    from suffice.record.cipher.key import RecordKey

VARIABLE = "SUFFICE_RECORD_KEY"


def encrypt(
    key: Annotated[
        Path | None,
        typer.Option(help="The file of the record's key.", envvar=VARIABLE, show_envvar=True),
    ] = None,
    make_key: Annotated[
        Path | None,
        typer.Option("--make-key", help="Make a key in this new file, and change nothing."),
    ] = None,
    change_to: Annotated[
        Path | None,
        typer.Option(help="Encrypt it with the key in this file instead, made before."),
    ] = None,
) -> None:
    """Encrypt the whole SQLite record, while no program uses it; or change its key."""
    if make_key is not None:
        _make(make_key)
        return
    if key is None:
        raise InputError(_needs_key())
    if change_to is not None:
        _change(key, change_to)
        print_words(message("Name the new key with {variable} from now on.", variable=VARIABLE))
    else:
        _change(None, key)
        print_words(message("Name its key with {variable} from now on.", variable=VARIABLE))


def decrypt(
    key: Annotated[
        Path | None,
        typer.Option(help="The file of the record's key.", envvar=VARIABLE, show_envvar=True),
    ] = None,
) -> None:
    """Decrypt the whole SQLite record, while no program uses it."""
    if key is None:
        raise InputError(_needs_key())
    _change(key, None)
    print_words(message("Leave {variable} out from now on.", variable=VARIABLE))


def _make(path: Path) -> None:
    from suffice.record.cipher.key import KEPT_AS, RecordKey  # noqa: PLC0415

    made = RecordKey(secret=KEPT_AS.make(path))
    print_words(message("Key {id} is in {path}.", id=made.id.hex(), path=str(path)))
    print_words(
        message(
            "Keep a copy of it away from this computer: without it the record cannot be read, by anybody."
        )
    )


def _change(before: Path | None, after: Path | None) -> None:
    """Change how the record is encrypted, from the key in one file to that in another; None is none."""
    from suffice.record.cipher import configured  # noqa: PLC0415
    from suffice.record.cipher.key import Kind, look  # noqa: PLC0415

    os.environ[VARIABLE] = str(before or after)
    if os.environ.get("DATABASE_URL"):
        configured.refuse_key()
    configured.need_driver()
    record = Path(os.environ.get("SUFFICE_HOME", "var")).resolve() / configured.RECORD
    there = look(record).kind
    if there not in {Kind.PLAIN, Kind.ENCRYPTED}:
        raise StorageError(_not_changed(message("There is no record in it.")))
    if before is None and there is Kind.ENCRYPTED:
        raise StorageError(_not_changed(message("It is encrypted already.")))
    if before is not None and there is Kind.PLAIN:
        raise StorageError(_not_changed(message("It is not encrypted.")))
    new = _key_in(after)
    if before is None:
        del os.environ[VARIABLE]
    open_record(migrate=False)
    with _record_alone(record.parent):
        _convert(record, new)
    sentence = message(
        "The record is encrypted with the key {id}: read back whole, it is the same."
    )
    plain = message("The record is not encrypted any more: read back whole, it is the same.")
    print_words(plain if new is None else sentence.with_params(id=new.id.hex()))


def _key_in(path: Path | None) -> RecordKey | None:
    from suffice.record.cipher.key import KEPT_AS, RecordKey  # noqa: PLC0415

    return None if path is None else RecordKey(secret=KEPT_AS.read(path))


def _convert(record: Path, new: RecordKey | None) -> None:
    from django.conf import settings  # noqa: PLC0415
    from django.db import connections  # noqa: PLC0415

    from suffice.care import upgrade  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415
    from suffice.record.cipher.converting import convert  # noqa: PLC0415

    connections.close_all()
    convert(record, settings.RECORD_KEY, new)
    # Their key, or the one from which theirs is derived, is that of before.
    upgrade.forget_copies()
    note_command(Act.RECORD, "decrypt" if new is None else "encrypt", is_stored=False)


@contextmanager
def _record_alone(home: Path) -> Iterator[None]:
    """For the length of the block nobody serves, reads, copies or begins the record."""
    from suffice.record import one_version  # noqa: PLC0415

    with ExitStack() as stack:
        for what in ("start", "tables", "backup"):
            stack.enter_context(in_turn(what))
        if served_at(home) is not None:
            raise StorageError(_not_changed(_IN_USE))
        try:
            stack.enter_context(one_version.alone())
        except one_version.OthersError:
            raise StorageError(_not_changed(_IN_USE)) from None
        yield


_IN_USE = message("It is in use: the server or another command has it open.")


def _not_changed(why: Words) -> Problem:
    return Problem(
        code="STORE-012",
        what=message("Nothing was changed in the record."),
        why=why,
        fix=message("See that SUFFICE_HOME names the record, and that no program uses it."),
    )


def _needs_key() -> Problem:
    return Problem(
        code="CLI-020",
        what=message("The record"),
        why=message("is encrypted with a key, and none is named."),
        fix=message(
            "Make one with suffice encrypt --make-key FILE, or name it: --key FILE, or {variable}.",
            variable=VARIABLE,
        ),
        where="--key",
    )
