"""Pictures on disk: one encrypted file each, in a folder of the family, beside the record.

The key stands neither in the database nor in that folder: in the environment
(SUFFICE_PHOTOGRAPH_KEY), or in the file `photograph-key` of SUFFICE_HOME, which only its owner reads.
It is made with the first photograph. Once there are photographs a missing key is never made anew.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path
from typing import Final
from uuid import UUID

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings

from suffice.errors import Problem, StorageError
from suffice.message import Message, message

KEY_VARIABLE: Final = "SUFFICE_PHOTOGRAPH_KEY"
_ENDING: Final = ".sealed"
_OWN_FILE: Final = 0o600
_OWN_FOLDER: Final = 0o700


def folder() -> Path:
    """Where pictures are kept."""
    return Path(settings.HOME) / "photographs"


def key_file() -> Path:
    """Where the key is, unless the environment has it."""
    return Path(settings.HOME) / "photograph-key"


def digest_of(content: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def keep(family_id: UUID, picture_id: UUID, content: bytes) -> None:
    """Encrypt a picture and put it on the disk, whole or not at all.

    Raises:
        StorageError: PHOTO-005, PHOTO-006.
    """
    sealed = _fernet().encrypt(content)
    path = _path(family_id, picture_id)
    partly = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(mode=_OWN_FOLDER, parents=True, exist_ok=True)
        _write(partly, sealed)
        partly.replace(path)
    except OSError as error:
        with suppress(OSError):
            partly.unlink(missing_ok=True)
        raise _stopped(
            "PHOTO-005",
            message("The photograph cannot be kept: {error}.", error=str(error.strerror)),
            message("Nothing of it is on the record."),
            message("Make room on the disk of the server, then send it again."),
        ) from error


def kept(family_id: UUID, picture_id: UUID, digest: str) -> bytes:
    """A picture as it was stored.

    Raises:
        StorageError: PHOTO-006, no key; PHOTO-007, it is gone; PHOTO-008, it is not what was stored.
    """
    try:
        sealed = _path(family_id, picture_id).read_bytes()
    except FileNotFoundError as error:
        raise _stopped(
            "PHOTO-007",
            message("The photograph is not on this server."),
            message("It was erased, or the record came from elsewhere without its pictures."),
            message("What was marked in it stays on the record."),
        ) from error
    try:
        content = _fernet().decrypt(sealed)
    except InvalidToken as error:
        raise _damaged() from error
    if digest_of(content) != digest:
        raise _damaged()
    return content


def is_kept(family_id: UUID, picture_id: UUID) -> bool:
    """Whether there is a file of a picture."""
    return _path(family_id, picture_id).exists()


def erase(family_id: UUID, picture_id: UUID) -> None:
    """Remove a picture for good."""
    _path(family_id, picture_id).unlink(missing_ok=True)


def erase_others(family_id: UUID, kept_ids: Collection[UUID]) -> None:
    """Remove every picture of a family for good but some, and what is left of one that was half written."""
    names = {_path(family_id, one).name for one in kept_ids}
    for path in _path(family_id, family_id).parent.glob("*"):
        if path.name not in names:
            path.unlink(missing_ok=True)


def erase_family(family_id: UUID) -> None:
    """Remove every picture of a family for good."""
    shutil.rmtree(folder() / str(family_id), ignore_errors=True)


def families() -> frozenset[UUID]:
    """The families that have a folder of pictures."""
    found = set()
    for path in folder().glob("*"):
        with suppress(ValueError):
            found.add(UUID(path.name))
    return frozenset(found)


def _path(family_id: UUID, picture_id: UUID) -> Path:
    return folder() / str(family_id) / f"{picture_id}{_ENDING}"


def _write(path: Path, content: bytes) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWN_FILE), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _fernet() -> Fernet:
    text = os.environ.get(KEY_VARIABLE) or _from_file()
    try:
        return Fernet(text.encode("ascii"))
    except ValueError as error:
        raise _no_key(message("The key of the photographs is damaged.")) from error


def _from_file() -> str:
    path = key_file()
    if not path.exists():
        if any(folder().glob(f"*/*{_ENDING}")):
            raise _no_key(message("The key of the photographs is missing."))
        own = path.with_suffix(f".{os.getpid()}")
        _write(own, Fernet.generate_key())
        # link, unlike replace, fails when another process was first: then its key is ours too.
        with suppress(FileExistsError):
            os.link(own, path)
        own.unlink()
    return path.read_text("ascii").strip()


def _no_key(what: Message) -> StorageError:
    return _stopped(
        "PHOTO-006",
        what,
        message("Without it no photograph can be shown or kept."),
        message(
            "Put {name} back where it was, or set {variable}; it is in the backup of keys.",
            name=key_file().name,
            variable=KEY_VARIABLE,
        ),
    )


def _damaged() -> StorageError:
    return _stopped(
        "PHOTO-008",
        message("The photograph is damaged."),
        message("Its file is not what was stored, or was encrypted by another key."),
        message("Bring it back from a backup; what was marked in it stays on the record."),
    )


def _stopped(code: str, what: Message, why: Message, fix: Message) -> StorageError:
    return StorageError(Problem(code=code, what=what, why=why, fix=fix))
