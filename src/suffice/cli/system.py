"""What the operating system refuses, in words of our own: its own words follow no clinic's language."""

from __future__ import annotations

import errno
from typing import Final

from suffice.message import Message, Words, message

REASONS: Final[dict[int, Message]] = {
    errno.EACCES: message("permission is denied"),
    errno.EPERM: message("permission is denied"),
    errno.EEXIST: message("the file exists already"),
    errno.ENOENT: message("there is no such folder"),
    errno.ENOTDIR: message("part of the path is a file, not a folder"),
    errno.EISDIR: message("it is a folder"),
    errno.ENAMETOOLONG: message("the file name is too long"),
    errno.ENOSPC: message("the disk is full"),
    errno.EROFS: message("the disk is read-only"),
    errno.EIO: message("the device reports an error"),
    errno.EADDRINUSE: message("the port is in use"),
    errno.EADDRNOTAVAIL: message("this computer has no such address"),
}
"""Number of a refusal to why."""


def reason_of(error: OSError) -> Words:
    """Why the system refused; a refusal that is not in the list keeps the system's words."""
    if error.errno in REASONS:
        return REASONS[error.errno]
    return error.strerror or type(error).__name__
