"""Every message in something computed or raised, for tests of what messages are made of."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from string import Formatter
from typing import Any

import msgspec

from suffice.errors import SufficeError
from suffice.message import Listed, Message

WORD = re.compile(r"below|above|wet|stool|male|female|weight|length|loss|gain|days|weeks")
"""A word that varies: it should have been a message."""


PAIR = re.compile(r"\b[a-z]{2,} [a-z]{2,}\b")
"""Two English words side by side: they should have been one too."""


def messages_of(value: Any) -> Iterator[Message]:
    """The messages inside structs, dataclasses, mappings, sequences and refusals, nested ones too."""
    if isinstance(value, Message):
        yield value
        for _name, inner in value.params:
            yield from messages_of(inner)
    elif isinstance(value, Listed):
        yield from messages_of(value.parts)
    elif isinstance(value, SufficeError):
        yield from messages_of(value.problems)
    elif isinstance(value, msgspec.Struct):
        for name in value.__struct_fields__:
            yield from messages_of(getattr(value, name))
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from messages_of(getattr(value, field.name))
    elif isinstance(value, Mapping):
        yield from messages_of(tuple(value.values()))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from messages_of(one)


def gaps(template: str) -> set[str]:
    """The named gaps of a template."""
    return {name for _literal, name, _spec, _conversion in Formatter().parse(template) if name}


def faults(said: Message) -> list[str]:
    """What is wrong with how a message is made; empty where nothing is."""
    found = []
    names = [name for name, _value in said.params]
    # A plural may leave its count out of one of its two forms ('a wet', '2 wets').
    wanted = gaps(said.template) | gaps(said.plural)
    if set(names) != wanted or len(names) != len(set(names)):
        found.append(f"{said.template!r}: gaps {sorted(wanted)}, filled {sorted(names)}")
    found += [
        f"{said.template!r}: {name} is plain English {value!r}"
        for name, value in said.params
        if isinstance(value, str)
        and (WORD.fullmatch(value) or PAIR.search(value))
        and name not in AS_TYPED
    ]
    return found


AS_TYPED = frozenset({"text", "name", "error", "source", "read_in", "path", "scale", "what"})
"""Gaps for what somebody typed, a citation or a message of another program."""
