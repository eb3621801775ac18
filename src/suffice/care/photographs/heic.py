"""HEIC, as some phones store photographs: known by its first bytes, read in a process of its own.

Read it is only where the extra `heic` is installed. What reads it is C and C++ that strangers' files have
broken before, so it runs apart: without the keys, the record or the network settings of this process, with
little memory and time. What comes back is a picture like any other, and checked like any other. One is read at a
time: with more, a few files could take the memory of the server and all of the processes that make pages.
"""

from __future__ import annotations

import fcntl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from django.conf import settings

LIBRARY: Final = "pillow_heif"
READER: Final = "suffice.care.photographs.heic_reader"
LONGEST_S: Final = 30
"""A picture of 48 million pixels takes 2 to 3 s; whoever waits longer is told that it cannot be read."""
WAITS_S: Final = 3.0
"""So long for the one before, which takes 2 to 3 s; who waits longer keeps others from their pages."""
_LOOKS_EVERY_S: Final = 0.05
"""Seconds: often enough that nobody notices."""
LOCK: Final = "heic.lock"
_BRANDS: Final = frozenset(
    {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"heif"}
)
_BRAND: Final = slice(8, 12)


def is_heic(content: bytes) -> bool:
    """Whether a file says in its first bytes that it is HEIC or HEIF."""
    return content[4:8] == b"ftyp" and content[_BRAND] in _BRANDS


def can_read() -> bool:
    """Whether the extra `heic` is installed."""
    return find_spec(LIBRARY) is not None


class BusyError(Exception):
    """Another one is being read, and takes long."""


def as_plain(content: bytes) -> bytes:
    """A HEIC file as PNG, upright, as :mod:`suffice.care.photographs.heic_reader` writes it.

    Raises:
        ValueError: It cannot be read, or not in little memory and time.
        BusyError: Another one is being read, in whatever process of the server.
    """
    with _alone():
        return _read(content)


@contextmanager
def _alone() -> Iterator[None]:
    """For the length of the block no other process of this record reads one; its end lets the lock go."""
    with (Path(settings.HOME) / LOCK).open("wb") as file:
        given_up_at = time.monotonic() + WAITS_S
        while True:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() >= given_up_at:
                    raise BusyError from None
                time.sleep(_LOOKS_EVERY_S)
        yield


def _read(content: bytes) -> bytes:
    try:
        done = subprocess.run(  # noqa: S603 -- our own module; the file goes in by its standard input
            [sys.executable, "-I", "-B", "-m", READER],
            input=content,
            capture_output=True,
            timeout=LONGEST_S,
            check=True,
            env={},
        )
    except (subprocess.SubprocessError, OSError) as error:
        raise ValueError(str(error)) from error
    return done.stdout
