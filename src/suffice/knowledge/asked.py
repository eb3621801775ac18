"""What a row about a problem asks, read from one line that a consultant can read and write.

``gape is short/borderline and (pain_end >= problem.painful_points or nipple_after is creased)``: a key
with one of its answers, or a number against a limit of the content; 'and' binds more than 'or'.

>>> sorted(one.key for one in atoms_of(read_asked("gape is short and pain_end >= problem.painful_points")))
['gape', 'pain_end']
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, Literal

import msgspec

_TOKEN: Final = re.compile(r"\s*(\(|\)|>=|<=|>|<|[a-z0-9_.]+(?:/[a-z0-9_]+)*)")
Compare = Literal[">=", ">", "<", "<="]
_SIGNS: Final[dict[str, Compare]] = {">=": ">=", ">": ">", "<": "<", "<=": "<="}


class Answered(msgspec.Struct, frozen=True):
    """A key that has one of some answers."""

    key: str
    answers: tuple[str, ...]


class Compared(msgspec.Struct, frozen=True):
    """A number that is compared with a limit, by its key in the content."""

    key: str
    compare: Compare
    limit: str


class Joined(msgspec.Struct, frozen=True):
    """Several, of which all or one must be so."""

    by: Literal["and", "or"]
    parts: tuple[Asked, ...]


Asked = Answered | Compared | Joined


def read_asked(text: str) -> Asked:
    """What a line asks.

    Raises:
        ValueError: The line cannot be read; the words say at what.
    """
    tokens = list(_tokens(text))
    found, rest = _either(tokens)
    if rest:
        raise ValueError(f"'{rest[0]}' is one too many")
    return found


def atoms_of(asked: Asked) -> Iterator[Answered | Compared]:
    """Every single thing that is asked, from left to right."""
    if isinstance(asked, Joined):
        for part in asked.parts:
            yield from atoms_of(part)
    else:
        yield asked


def _tokens(text: str) -> Iterator[str]:
    place = 0
    while place < len(text.rstrip()):
        found = _TOKEN.match(text, place)
        if found is None:
            raise ValueError(f"'{text[place:].strip()[:20]}' cannot be read")
        yield found[1]
        place = found.end()


def _either(tokens: list[str]) -> tuple[Asked, list[str]]:
    return _series("or", tokens)


def _series(by: Literal["and", "or"], tokens: list[str]) -> tuple[Asked, list[str]]:
    below = _one if by == "and" else _all
    first, rest = below(tokens)
    parts = [first]
    while rest and rest[0] == by:
        part, rest = below(rest[1:])
        parts.append(part)
    return (Joined(by, tuple(parts)) if len(parts) > 1 else first), rest


def _all(tokens: list[str]) -> tuple[Asked, list[str]]:
    return _series("and", tokens)


def _one(tokens: list[str]) -> tuple[Asked, list[str]]:
    if tokens and tokens[0] == "(":
        found, rest = _either(tokens[1:])
        if not rest or rest[0] != ")":
            raise ValueError("a bracket is not closed")
        return found, rest[1:]
    match tokens:
        case [key, "is", answers, *rest]:
            return Answered(key, tuple(answers.split("/"))), rest
        case [key, compare, limit, *rest] if compare in _SIGNS:
            return Compared(key, _SIGNS[compare], limit), rest
    raise ValueError(f"after '{' '.join(tokens[:2])}' something is missing")
