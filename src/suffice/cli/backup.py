"""``suffice backup`` and ``suffice restore``."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from suffice.cli.console import err, print_words
from suffice.cli.moment import now_utc
from suffice.cli.noted import note_command
from suffice.cli.store import in_turn, open_record
from suffice.errors import InputError, Problem
from suffice.message import Amount, Instant, Message, message

KEY_VARIABLE = "SUFFICE_BACKUP_KEY"
FAMILIES = message("{count} family", plural="{count} families")
ENTRIES = message("{count} entry", plural="{count} entries")
BYTES_PER_MB = 1_000_000


def backup(
    to: Annotated[
        Path | None, typer.Argument(help="The folder for it: on another disk, a mounted share.")
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option(help="The file of the key.", envvar=KEY_VARIABLE, show_envvar=True),
    ] = None,
    keep: Annotated[
        int | None,
        typer.Option(help="Keep only this many there, the newest; this one counts.", min=1),
    ] = None,
    new_key: Annotated[
        Path | None, typer.Option("--new-key", help="Make a key in this new file, and no backup.")
    ] = None,
    forget: Annotated[
        Path | None,
        typer.Option(help="Expect nothing of this folder: its backups are gone for good."),
    ] = None,
) -> None:
    """Make a sealed backup of the whole record, while others work; it is opened to check it."""
    if forget is not None:
        _forget(forget)
        return
    if new_key is not None:
        _make_key(new_key)
        return
    if to is None or key is None:
        raise InputError(_needs_both())
    open_record()
    from suffice.care.backup import reaching  # noqa: PLC0415 -- loads cryptography
    from suffice.care.backup.key import read_key  # noqa: PLC0415
    from suffice.care.backup.making import make_backup  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415
    from suffice.record import erasure  # noqa: PLC0415

    opened = read_key(key)
    with in_turn("backup"):
        made = make_backup(to, opened, now=now_utc(), key_file=key, keep=keep)
        erased = tuple(erasure.every())
        reaching.strike(erased)
    note_command(Act.RECORD, "backup")
    print_words(
        message(
            "Backup {path} ({size}), opened and counted: {held}.",
            path=str(made.path),
            size=Amount(made.size_bytes / BYTES_PER_MB, "MB", decimals=1),
            held=held(made.stored.families, made.stored.entries),
        )
    )
    _say_newest(made.stored.newest_at)
    _say_unsealed(made.unsealed_count)
    _say_owed(reaching.owed({one.family_id for one in erased}))
    if made.removed:
        print_words(
            message(
                "{count} old backup removed.",
                plural="{count} old backups removed.",
                count=made.removed,
            )
        )


def restore(
    file: Annotated[Path, typer.Argument(help="The backup.")],
    key: Annotated[
        Path | None,
        typer.Option(help="The file of the key.", envvar=KEY_VARIABLE, show_envvar=True),
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(help="The folder of the new record; SUFFICE_HOME if left out."),
    ] = None,
    families: Annotated[
        Path | None,
        typer.Option(help="The keys of the families; those beside the backup if left out."),
    ] = None,
) -> None:
    """Restore a backup where there is no record yet; the whole backup is checked first."""
    if key is None:
        raise InputError(_needs_key())
    if into is not None:
        os.environ["SUFFICE_HOME"] = str(into)
    # The tables are made as the backup needs them, not as a new record has them.
    open_record(migrate=False)
    from suffice.care.backup import restoring  # noqa: PLC0415
    from suffice.care.backup.key import read_key  # noqa: PLC0415
    from suffice.care.trail import Act  # noqa: PLC0415

    opened = read_key(key, alone=False)
    with in_turn("start"), in_turn("backup"):
        done = restoring.restore(file, opened, families)
    note_command(Act.RECORD, "restore")
    print_words(
        message(
            "Restored {path}, made {at}: {held}.",
            path=str(file),
            at=Instant(done.manifest.made_at, year=True),
            held=held(done.stored.families, done.stored.entries),
        )
    )
    _say_newest(done.stored.newest_at)
    _say_unsealed(done.unsealed_count)
    print_words(message("Everybody signs in again, with the same name and passphrase."))


def _make_key(path: Path) -> None:
    from suffice.care.backup.key import new_key  # noqa: PLC0415

    made = new_key(path)
    print_words(message("Key {id} is in {path}.", id=made.id.hex(), path=str(path)))
    print_words(
        message(
            "Keep a copy of it away from this computer and away from the backups: without it no"
            " backup can be opened, by anybody."
        )
    )


def held(families: int, entries: int) -> Message:
    """How much there is, in words."""
    return message(
        "{families}, {entries}",
        families=FAMILIES.with_params(count=families),
        entries=ENTRIES.with_params(count=entries),
    )


def _say_newest(newest_at: datetime | None) -> None:
    if newest_at is not None:
        print_words(message("The newest entry was entered {at}.", at=Instant(newest_at, year=True)))


def _say_unsealed(count: int) -> None:
    if count:
        print_words(
            message(
                "{count} seal that was written down is not in it: its history was changed, or it is an older"
                " copy. suffice verify says more.",
                plural="{count} seals that were written down are not in it: its history was changed, or it is"
                " an older copy. suffice verify says more.",
                count=count,
            ),
            to=err,
        )


def _forget(folder: Path) -> None:
    open_record()
    from suffice.care.backup.reaching import forget_folder  # noqa: PLC0415

    with in_turn("backup"):
        was_noted = forget_folder(folder)
    sentence = message("Nothing is expected of {folder} any more.")
    never = message("No backup was made in {folder}, as far as is known here.")
    print_words((sentence if was_noted else never).with_params(folder=str(folder)))


def _say_owed(folders: Sequence[str]) -> None:
    if folders:
        print_words(
            message(
                "Families that were erased can still be read in the backups in {folders}, which cannot be"
                " reached. suffice doctor says what to do.",
                folders=", ".join(folders),
            ),
            to=err,
        )


def _needs_both() -> Problem:
    return Problem(
        code="CLI-015",
        what=message("A backup"),
        why=message("needs a folder and a key."),
        fix=message(
            "Make a key once with suffice backup --new-key FILE; then suffice backup FOLDER --key FILE."
        ),
        where="--key",
    )


def _needs_key() -> Problem:
    return Problem(
        code="CLI-016",
        what=message("A backup"),
        why=message("is opened by the key that it was sealed with."),
        fix=message("Name its file: --key FILE."),
        where="--key",
    )
