"""A bug of ours without what it was about: where it was raised, of which kind, and not its message.

A message may quote what was typed or stored; a traceback on standard error ends in the journal of a
server, which many may read.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
import traceback
from types import TracebackType
from typing import Any

logger = logging.getLogger("suffice.bug")


def frames(error: BaseException, trace: TracebackType | None) -> list[str]:
    """The kinds of an error and of its causes, and where each was raised."""
    lines = []
    link: Any = error
    while link is not None:
        raised = traceback.extract_tb(trace if link is error else link.__traceback__)
        lines += [f"  {frame.filename}:{frame.lineno} in {frame.name}" for frame in raised]
        lines.append(f"  {type(link).__module__}.{type(link).__qualname__}")
        link = link.__cause__ or link.__context__
    return lines


def keep_quiet() -> None:
    """Let nothing that nobody caught, in no thread, reach standard error with its message.

    SUFFICE_DEBUG=1 leaves Python's own tracebacks, for whoever looks for a bug on invented data.
    """
    if os.environ.get("SUFFICE_DEBUG") == "1":
        return
    sys.excepthook = _report_uncaught
    threading.excepthook = lambda caught: _report_uncaught(
        caught.exc_type, caught.exc_value, caught.exc_traceback
    )


def _report_uncaught(
    kind: type[BaseException], error: BaseException | None, trace: TracebackType | None
) -> None:
    if error is None:
        return
    logger.error("not caught: %s", kind.__qualname__, exc_info=(kind, error, trace))
    print("A defect of the program; report these lines:", file=sys.stderr)  # noqa: T201
    print("\n".join(frames(error, trace)), file=sys.stderr)  # noqa: T201
