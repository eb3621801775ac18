"""What every command shares: the two consoles, how a problem is said, how a command ends."""

from __future__ import annotations

import sys
from enum import IntEnum

from rich.console import Console

from suffice.errors import ContentError, InputError, RefusalError, StorageError, SufficeError

WIDTH_OF_A_PIPE = 132

# A pipe has no width of its own, and eighty columns would break the numbers of a table.
out = Console(
    highlight=False,
    soft_wrap=True,
    width=None if sys.stdout.isatty() else WIDTH_OF_A_PIPE,
)
err = Console(stderr=True, highlight=False, soft_wrap=True)


class Exit(IntEnum):
    """How a command ends; documented in docs/reference/cli.md."""

    OK = 0
    INPUT = 2
    REFUSAL = 3
    STORAGE = 4
    CONTENT = 5
    INTERRUPTED = 130


EXIT_OF: dict[type[SufficeError], Exit] = {
    InputError: Exit.INPUT,
    RefusalError: Exit.REFUSAL,
    StorageError: Exit.STORAGE,
    ContentError: Exit.CONTENT,
}


def exit_code(error: SufficeError) -> Exit:
    """The exit code of a refusal."""
    return next((code for kind, code in EXIT_OF.items() if isinstance(error, kind)), Exit.INPUT)


def say_problems(error: SufficeError) -> None:
    """Each problem on a line of its own, on standard error."""
    for problem in error.problems:
        doubt = "asks: " if problem.doubtful else ""
        err.print(f"{doubt}{problem}", markup=False)
    if any(problem.doubtful for problem in error.problems):
        err.print("Nothing was stored. If these values are right, say so with --confirm.")
