"""True, false, or cannot tell: what can be said of a condition when not everything is known.

The three are joined by Kleene's strong logic. What is not known decides nothing by itself: 'and'
is false as soon as one part is false, 'or' is true as soon as one part is true, and else a part
not known leaves the whole not known. So more knowledge may settle what was not known,
and never turns true into false or false into true.

>>> conjunction([Truth.TRUE, Truth.CANNOT_TELL]).value
'cannot tell'
>>> conjunction([Truth.FALSE, Truth.CANNOT_TELL]).value
'false'
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Mapping
from enum import Enum
from typing import Final, NoReturn

COMPARE: Final[Mapping[str, Callable[[float, float], bool]]] = {
    ">=": operator.ge,
    ">": operator.gt,
    "<": operator.lt,
    "<=": operator.le,
}
"""How the content writes a comparison, to what it asks."""


class Truth(Enum):
    """One of three; it has no truth of its own, so that 'cannot tell' never passes for false."""

    TRUE = "true"
    FALSE = "false"
    CANNOT_TELL = "cannot tell"

    def __bool__(self) -> NoReturn:
        """Refuse to be asked 'if truth': say which of the three is meant.

        Raises:
            TypeError: Always.
        """
        raise TypeError("a truth of three is asked by 'is Truth.TRUE', never as a condition")


def truth_of(known: bool | None) -> Truth:
    """A truth from a plain answer; None where nobody knows."""
    if known is None:
        return Truth.CANNOT_TELL
    return Truth.TRUE if known else Truth.FALSE


def negation(truth: Truth) -> Truth:
    """The opposite; what is not known stays so."""
    if truth is Truth.CANNOT_TELL:
        return truth
    return Truth.FALSE if truth is Truth.TRUE else Truth.TRUE


def both(one: Truth, other: Truth) -> Truth:
    """Two of them: false where one is false, else true only where both are."""
    if one is Truth.TRUE or other is Truth.FALSE:
        return other
    return one


def conjunction(parts: Iterable[Truth]) -> Truth:
    """All of them: false where one is false, else true only where all are; true of none at all.

    Nothing is asked after the first false one.
    """
    return _settled_by(Truth.FALSE, parts)


def disjunction(parts: Iterable[Truth]) -> Truth:
    """Any of them: true where one is true, else false only where all are; false of none at all.

    Nothing is asked after the first true one.
    """
    return _settled_by(Truth.TRUE, parts)


def _settled_by(settles: Truth, parts: Iterable[Truth]) -> Truth:
    """The one that settles the whole where a part is so; else its opposite, where all are known."""
    whole = negation(settles)
    for part in parts:
        if part is settles:
            return part
        if part is Truth.CANNOT_TELL:
            whole = part
    return whole
