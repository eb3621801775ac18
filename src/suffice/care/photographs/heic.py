"""HEIC, as some phones store photographs: known by its first bytes, read in a process of its own.

Read it is only where the extra `heic` is installed. What reads it is C and C++ that strangers' files have
broken before, so it runs apart: without the keys, the record or the network settings of this process, with
little memory and time. What comes back is a picture like any other, and checked like any other.
"""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from typing import Final

LIBRARY: Final = "pillow_heif"
READER: Final = "suffice.care.photographs.heic_reader"
LONGEST_S: Final = 30
"""A picture of 48 million pixels takes 2 to 3 s; whoever waits longer is told that it cannot be read."""
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


def as_plain(content: bytes) -> bytes:
    """A HEIC file as PNG, upright, as :mod:`suffice.care.photographs.heic_reader` writes it.

    Raises:
        ValueError: It cannot be read, or not in little memory and time.
    """
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
