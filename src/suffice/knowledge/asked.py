"""What a row about a problem asks, read from one line that a consultant can read and write.

``gape is short/borderline and (pain_end >= problem.painful_points or nipple_after is creased)``: a key
with one of its answers, or a number against a limit of the content; 'and' binds more than 'or'. What
comes out is the condition that a row of flags is written as, and is asked by the same evaluator.

>>> [one.find for one in read_asked("gape is short and pain_end >= problem.painful_points").single()]
['gape', 'pain_end']
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, Literal

from suffice.knowledge.schema import Condition

_TOKEN: Final = re.compile(r"\s*(\(|\)|>=|<=|>|<|[a-z0-9_.]+(?:/[a-z0-9_]+)*)")
Compare = Literal[">=", ">", "<", "<="]
_SIGNS: Final[dict[str, Compare]] = {">=": ">=", ">": ">", "<": "<", "<=": "<="}


def read_asked(text: str) -> Condition:
    """What a line asks.

    Raises:
        ValueError: The line cannot be read; the words say at what.
    """
    tokens = list(_tokens(text))
    found, rest = _either(tokens)
    if rest:
        raise ValueError(f"'{rest[0]}' is one too many")
    return found


def _tokens(text: str) -> Iterator[str]:
    place = 0
    while place < len(text.rstrip()):
        found = _TOKEN.match(text, place)
        if found is None:
            raise ValueError(f"'{text[place:].strip()[:20]}' cannot be read")
        yield found[1]
        place = found.end()


def _either(tokens: list[str]) -> tuple[Condition, list[str]]:
    return _series("or", tokens)


def _series(by: Literal["and", "or"], tokens: list[str]) -> tuple[Condition, list[str]]:
    below = _one if by == "and" else _all
    first, rest = below(tokens)
    parts = [first]
    while rest and rest[0] == by:
        part, rest = below(rest[1:])
        parts.append(part)
    if len(parts) == 1:
        return first, rest
    joined = tuple(parts)
    return Condition(all_of=joined) if by == "and" else Condition(any_of=joined), rest


def _all(tokens: list[str]) -> tuple[Condition, list[str]]:
    return _series("and", tokens)


def _one(tokens: list[str]) -> tuple[Condition, list[str]]:
    if tokens and tokens[0] == "(":
        found, rest = _either(tokens[1:])
        if not rest or rest[0] != ")":
            raise ValueError("a bracket is not closed")
        return found, rest[1:]
    match tokens:
        case [key, "is", answers, *rest]:
            return Condition(find=key, answers=tuple(answers.split("/"))), rest
        case [key, compare, limit, *rest] if compare in _SIGNS:
            return Condition(find=key, compare=_SIGNS[compare], limit=limit), rest
    raise ValueError(f"after '{' '.join(tokens[:2])}' something is missing")
