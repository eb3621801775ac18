"""What every command shares: the consoles, the clinic's words, how a command ends.

A command speaks the language of the clinic whose record it opens, or the one it is asked for;
before either is known, English.
"""

from __future__ import annotations

import sys
from contextvars import ContextVar
from enum import IntEnum
from typing import TYPE_CHECKING

from rich.console import Console

from suffice.errors import (
    ContentError,
    DamageError,
    InputError,
    Problem,
    RefusalError,
    StorageError,
    SufficeError,
)
from suffice.message import Words, message

if TYPE_CHECKING:
    from suffice.knowledge.policy import Policy

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
    DAMAGED = 6
    INTERRUPTED = 130


EXIT_OF: dict[type[SufficeError], Exit] = {
    InputError: Exit.INPUT,
    RefusalError: Exit.REFUSAL,
    DamageError: Exit.DAMAGED,
    StorageError: Exit.STORAGE,
    ContentError: Exit.CONTENT,
}


def exit_code(error: SufficeError) -> Exit:
    """The exit code of a refusal."""
    return next((code for kind, code in EXIT_OF.items() if isinstance(error, kind)), Exit.INPUT)


_speaking: ContextVar[Policy | None] = ContextVar("policy by which a command speaks", default=None)


def speak_as(policy: Policy) -> None:
    """Say from now on what this command says as this clinic reads it."""
    _speaking.set(policy)


def speaks_for_a_clinic() -> bool:
    """Whether it is known already in which language this command speaks."""
    return _speaking.get() is not None


def in_words(words: Words) -> str:
    """A message in the words of the clinic."""
    from suffice.language.text import text_of  # noqa: PLC0415

    return text_of(words, speaking())


def speaking() -> Policy:
    """The policy by which this command speaks."""
    # Imported here, so that `suffice --help` answers at once.
    from suffice.knowledge.policy import Policy  # noqa: PLC0415

    return _speaking.get() or Policy()


def print_words(words: Words, *, to: Console = out, style: str = "", indent: int = 0) -> None:
    """A message on a line of its own."""
    to.print(f"{' ' * indent}{in_words(words)}", style=style, markup=False)


def problem_line(problem: Problem) -> str:
    """A problem as one line: its code, where it is, the value, the rule, what to do."""
    place = f" ({in_words(problem.where)})" if problem.where else ""
    parts = (in_words(one) for one in (problem.what, problem.why, problem.fix))
    return f"{problem.code}{place}: {' '.join(part for part in parts if part)}"


def say_problems(error: SufficeError) -> None:
    """Each problem on a line of its own, on standard error."""
    for problem in error.problems:
        line = problem_line(problem)
        if problem.doubtful:
            line = in_words(message("asks: {problem}", problem=line))
        err.print(line, markup=False)
    if any(problem.doubtful for problem in error.problems):
        print_words(NOTHING_STORED, to=err)


NOTHING_STORED = message("Nothing was stored. If these values are right, say so with --confirm.")
