"""What the log says when something fails: enough to find the bug, nothing about a family.

A traceback's frames name code; its message may quote what was typed. So the log keeps the frames
and the kind of the error and leaves the message out, and a page shows the number under which it
stands in the log.
"""

from __future__ import annotations

import logging
from uuid import uuid4

from suffice.care.quiet import frames

logger = logging.getLogger("suffice.incident")


def new_number() -> str:
    """A short number to read out on the phone: eight characters."""
    return uuid4().hex[:8].upper()


def report(number: str, what: str, error: BaseException | None = None) -> None:
    """Write an incident to the log.

    Args:
        number: The number that the page shows.
        what: Kind of incident and the route's name; never an address with a query.
        error: What was raised.
    """
    logger.error("incident %s: %s", number, what, exc_info=error)


class QuietFormatter(logging.Formatter):
    """Frames and kinds of errors without their messages and without what a request carried.

    Of another's message stays what stands before its first gap; one without gaps was put together by
    then, of anything, and only its logger is named.
    """

    def format(self, record: logging.LogRecord) -> str:
        """One line, and the frames of a traceback."""
        if record.name.startswith("suffice"):
            text = record.getMessage()
        else:
            text = str(record.msg).split("%", maxsplit=1)[0].strip() if record.args else ""
        lines = [f"{self.formatTime(record)} {record.levelname} {record.name} {text}"]
        if record.exc_info and record.exc_info[1] is not None:
            lines += frames(record.exc_info[1], record.exc_info[2])
        return "\n".join(lines)
