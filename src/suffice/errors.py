"""The few ways in which Suffice says no.

```
SufficeError
├── InputError      a person can correct it: a value, a file, an option
├── RefusalError    the question is outside the validated range, or belongs to a physician
├── ContentError    an author of the content store can correct it
└── StorageError    the record could not be read or written
    └── DamageError what is stored is not what was entered
```

Every error carries one or more :class:`Problem`. Codes are stable and each has a heading in
docs/errors.md. Our own bugs are never dressed up as one of these.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from suffice.message import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong, in words with which the reader can correct it.

    Attributes:
        code: Stable code such as ``WEIGHT-003``; a heading in docs/errors.md.
        what: The offending value, with its unit.
        why: The rule that it breaks.
        fix: What to do next.
        where: Field, row or file in which it stands, a field by its name in the code; empty when
            there is only one place.
        doubtful: True when the value may be right and the reader is only asked to confirm it.
    """

    code: str
    what: Words
    why: Words
    fix: Words
    where: Words = ""
    doubtful: bool = False

    def __str__(self) -> str:
        """The whole problem as one line of plain English; pages put it into the reader's words."""
        place = f" ({self.where})" if self.where else ""
        return f"{self.code}{place}: {self.what} {self.why} {self.fix}".strip()

    def at(self, where: Words) -> Problem:
        """The same problem, said of another place."""
        return replace(self, where=where)


class SufficeError(Exception):
    """The root of all refusals; carries the problems that caused it."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(*problems)
        self.problems: tuple[Problem, ...] = problems

    def __str__(self) -> str:
        """All problems in plain English. Most refusals are never read, so they are not worded before."""
        return "; ".join(str(problem) for problem in self.problems)

    @classmethod
    def from_problems(cls, problems: Iterable[Problem]) -> SufficeError:
        """An error of this class that carries all of `problems`."""
        return cls(*problems)


class InputError(SufficeError):
    """A person can correct it."""


class RefusalError(SufficeError):
    """The question is outside the validated range, or is a physician's."""


class ContentError(SufficeError):
    """An author of the content store can correct it."""


class StorageError(SufficeError):
    """The record could not be read or written."""


class DamageError(StorageError):
    """What is stored is not what was entered; nothing is added to it."""
