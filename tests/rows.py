"""A table asked row by row within one test.

Pytest spends more on a test of its own than most rows of the content's tables take, and it does so
once more in every process. So a table of hundreds of short rows is one test; what fails is said of
each row by its name, as it would be of a test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

import pytest

Row = TypeVar("Row")

FAULTS = (Exception, pytest.fail.Exception)
"""What pytest says of a row in which nothing is raised is no Exception."""
MOST_FAULTS = 20
"""So many rows that fail are told; the others of a table that is wrong as a whole are not asked."""


def each_row(
    rows: Iterable[Row], name: Callable[[Row], object] = str
) -> Callable[[Callable[[Row], None]], Callable[[], None]]:
    """Ask a test of every row: an exception of any is a fault, and so is a table without rows."""
    table = tuple(rows)

    def of(check: Callable[[Row], None]) -> Callable[[], None]:
        def test() -> None:
            assert table, "a table without rows tests nothing"
            faults: list[BaseException] = []
            for row in table:
                try:
                    check(row)
                except FAULTS as fault:  # each is raised again, with its row
                    fault.add_note(f"row: {name(row)}")
                    faults.append(fault)
                if len(faults) == MOST_FAULTS:
                    break
            if faults:
                least = "at least " if len(faults) == MOST_FAULTS else ""
                said = f"{least}{len(faults)} of {len(table)} rows failed"
                raise BaseExceptionGroup(said, faults)

        test.__name__, test.__doc__ = check.__name__, check.__doc__
        test.__module__, test.__qualname__ = check.__module__, check.__qualname__
        return test

    return of
