"""Taking the keys of erased families from beside the backups: at once, wherever a folder can be reached.

Each backup notes its folder and where the key is that opens the copy of the families' keys there. An erasure
rewrites every such copy without the family; a folder that is away, or whose key is, stays owed: the program
tries again every minute, each backup does, and pages and `suffice doctor` name it until it is done.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Lock, Thread
from typing import Final
from uuid import UUID

import msgspec
from django.conf import settings

from suffice.care.backup import family_keys
from suffice.care.backup.key import Key, read_key
from suffice.care.backup.shelf import last_good
from suffice.errors import SufficeError
from suffice.record.erasure import Erased

FILE: Final = "backup-folders.json"
KEY_VARIABLE: Final = "SUFFICE_BACKUP_KEY"
WAIT_S: Final = 5.0
"""How long an erasure waits for folders: a share that is gone may not even say so."""


class Folder(msgspec.Struct, frozen=True, kw_only=True):
    """A folder that has backups.

    Attributes:
        path: Where it is.
        key_file: Where the key of its backups was when the last one was made.
        key_id: Which key that is.
        struck: The erased families that the copy of the keys there does not have any more.
    """

    path: str
    key_file: str
    key_id: str = ""
    struck: frozenset[UUID] = frozenset()


def folders() -> tuple[Folder, ...]:
    """The folders that backups went to; of a record from before they were noted the last one's."""
    with suppress(OSError, msgspec.DecodeError):
        return msgspec.json.decode(_file().read_bytes(), type=tuple[Folder, ...])
    last = last_good()
    if last is None:
        return ()
    return (Folder(path=str(Path(last.path).parent), key_file=os.environ.get(KEY_VARIABLE, "")),)


def note_folder(folder: Path, key: Key, key_file: Path, struck: Collection[UUID]) -> None:
    """Note where a backup goes, and which families the copy of the keys there does not have."""
    made = Folder(
        path=str(folder.resolve()),
        key_file=str(key_file.resolve()),
        key_id=key.id.hex(),
        struck=frozenset(struck),
    )
    others = (one for one in folders() if (one.path, one.key_id or made.key_id) != _named(made))
    _keep([*others, made])


def forget_folder(folder: Path) -> bool:
    """Expect nothing of a folder any more: its backups are gone for good. False: it was not noted."""
    path, noted = str(folder.resolve()), folders()
    left = [one for one in noted if one.path != path]
    _keep(left)
    return len(left) < len(noted)


def owed(erased: Collection[UUID]) -> tuple[str, ...]:
    """The folders in whose backups families that were erased can still be read."""
    return tuple(dict.fromkeys(one.path for one in folders() if set(erased) - one.struck))


def strike(erased: Sequence[Erased]) -> None:
    """Take the keys of erased families from the copies beside the backups, where they can be reached.

    For whoever has the turn of the backups; :func:`reach` is for everybody else.
    """
    gone = frozenset(one.family_id for one in erased)
    done = [_struck(one, erased, gone) if gone - one.struck else one for one in folders()]
    if done:
        _keep(done)


_at_work = Lock()


def reach(erased: Sequence[Erased], *, wait_s: float = WAIT_S) -> tuple[str, ...]:
    """The same beside whoever asks, who waits only for so long; gives the folders that are still owed.

    While a backup is made nothing is touched: it would bring back what is taken from under it.
    """
    gone = {one.family_id for one in erased}
    if owed(gone) and _at_work.acquire(blocking=False):
        thread = Thread(target=_reach, args=[erased], name="keys beside backups", daemon=True)
        thread.start()
        thread.join(wait_s)
    return owed(gone)


def _reach(erased: Sequence[Erased]) -> None:
    try:
        with _turn() as is_ours:
            if is_ours:
                strike(erased)
    finally:
        _at_work.release()


@contextmanager
def _turn() -> Iterator[bool]:
    """The turn of the backups (see `in_turn` of the commands), if nobody has it."""
    with (Path(settings.HOME) / "backup.lock").open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
        else:
            yield True


def _struck(folder: Folder, erased: Sequence[Erased], gone: frozenset[UUID]) -> Folder:
    """The folder with what was done; as it was where it or its key cannot be reached."""
    for key in _keys(folder):
        # No file of keys: an empty folder on which no disk is mounted, as far as anybody can tell.
        with suppress(OSError, SufficeError):
            family_keys.strike_copy(Path(folder.path), key, erased)
            return msgspec.structs.replace(folder, struck=folder.struck | gone)
    return folder


def _keys(folder: Folder) -> Iterator[Key]:
    """The key of a folder's backups, from where it was or where the environment says it is."""
    for place in dict.fromkeys((folder.key_file, os.environ.get(KEY_VARIABLE, ""))):
        with suppress(SufficeError):
            key = read_key(Path(place))
            if folder.key_id in {"", key.id.hex()}:
                yield key


def _named(folder: Folder) -> tuple[str, str]:
    return folder.path, folder.key_id


def _keep(noted: Sequence[Folder]) -> None:
    made = _file().with_suffix(".new")
    made.write_bytes(msgspec.json.encode(noted))
    made.replace(_file())


def _file() -> Path:
    return Path(settings.HOME) / FILE
