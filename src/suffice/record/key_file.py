"""Keys that a clinic keeps: each 32 random bytes in a file of its own, which its owner alone reads."""

from __future__ import annotations

import base64
import binascii
import os
import secrets
from pathlib import Path

import msgspec

from suffice.errors import InputError, Problem
from suffice.message import Message, Words, message

KEY_BYTES = 32
LARGEST_FILE_BYTES = 1024
OWNERS = 0o600
"""The rights of a file that its owner alone reads and writes."""
OTHERS = 0o077
"""The rights of everybody but the owner of a file."""
ALL_OTHERS = 0o007
"""The same without those of a group."""
CREDENTIALS = "CREDENTIALS_DIRECTORY"
"""Names the folder in which systemd hands a service its secrets. It lets the service's user in by a list of its own
(ACL), which looks like a right of the group from version 254 on; the folder is shut to everybody else."""


class KeyFile(msgspec.Struct, frozen=True, kw_only=True):
    """How keys of one purpose are kept.

    Attributes:
        mark: How the file begins.
        unusable: The code of a file that cannot be used.
        shared: The code of a file that others can read.
        where: What names the file, an option or a variable.
        kept: Why one that is there already is not written over.
        no_key: Why a file without a key of this purpose cannot be used.
        made_by: What makes one.
    """

    mark: str
    unusable: str
    shared: str
    where: str
    kept: Message
    no_key: Message
    made_by: Message

    def make(self, path: Path) -> bytes:
        """Make a key in a new file.

        Raises:
            InputError: When the file is there already or cannot be written.
        """
        secret = secrets.token_bytes(KEY_BYTES)
        text = self.mark + base64.b64encode(secret).decode() + "\n"
        try:
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNERS)
            with os.fdopen(descriptor, "w", encoding="ascii") as opened:
                opened.write(text)
                opened.flush()
                os.fsync(opened.fileno())
        except FileExistsError:
            raise self._problem(path, self.kept, message("Name a new file.")) from None
        except OSError as error:
            raise self._problem(path, *_of_system(error)) from error
        return secret

    def read(self, path: Path, *, alone: bool = True) -> bytes:
        """The key in a file.

        Args:
            path: The file.
            alone: Whether the owner alone may be able to read it.

        Raises:
            InputError: When it cannot be read, holds no key, or others may read it.
        """
        return self.need(path, self.content(path, alone=alone))

    def content(self, path: Path, *, alone: bool = True) -> bytes:
        """What is in a file, whether a key or not; otherwise like :meth:`read`."""
        try:
            with path.open("rb") as opened:
                rights = os.fstat(opened.fileno()).st_mode
                content = opened.read(LARGEST_FILE_BYTES)
        except OSError as error:
            raise self._problem(path, *_of_system(error)) from error
        if alone and rights & _not_to_be(path):
            raise InputError(
                Problem(
                    code=self.shared,
                    what=str(path),
                    why=message("can be read by others on this computer."),
                    fix=message("Take their rights away: chmod 600 {path}", path=str(path)),
                    where=self.where,
                )
            )
        return content

    def need(self, path: Path, content: bytes) -> bytes:
        """The key that the content of a file is.

        Raises:
            InputError: When it is none of this purpose.
        """
        secret = self.secret_in(content)
        if secret is None:
            raise self._problem(path, self.no_key, self.made_by)
        return secret

    def secret_in(self, content: bytes) -> bytes | None:
        """The key that the content of a file is; None where it is none of this purpose."""
        text = content.decode("ascii", "replace").strip()
        try:
            secret = base64.b64decode(text.removeprefix(self.mark), validate=True)
        except (binascii.Error, ValueError):
            return None
        return secret if text.startswith(self.mark) and len(secret) == KEY_BYTES else None

    def _problem(self, path: Path, why: Words, fix: Words) -> InputError:
        return InputError(
            Problem(code=self.unusable, what=str(path), why=why, fix=fix, where=self.where)
        )


def _not_to_be(path: Path) -> int:
    """The rights that nobody may have on a file of a key."""
    folder = os.environ.get(CREDENTIALS, "")
    is_handed = bool(folder) and path.resolve().is_relative_to(Path(folder).resolve())
    return ALL_OTHERS if is_handed else OTHERS


def _of_system(error: OSError) -> tuple[Words, Words]:
    reason = error.strerror or type(error).__name__
    return (
        message("cannot be used: {reason}.", reason=reason),
        message("Check the path, and who may read and write there."),
    )
