"""One line of a proposal: what it is about, what it says, and how it came about."""

from __future__ import annotations

from typing import Final, Literal

import msgspec

from suffice.clinical.working import Working
from suffice.message import Message, Words, message

Part = Literal[
    "supplement", "feeds", "breast", "milk", "expressing", "made", "minutes", "weigh", "contact"
]
"""What a line is about."""


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a proposal.

    Attributes:
        part: What it is about.
        says: What is proposed and why, in sentences.
        warnings: What must be said with it, or is missing.
        workings: How it came about.
    """

    part: Part
    says: tuple[Words, ...]
    warnings: tuple[Words, ...] = ()
    workings: tuple[Working, ...] = ()


RULES: Final[dict[Part, Message]] = {
    "supplement": message(
        "need less what is taken, each with its interval; no amount while one is not known"
    ),
    "milk": message(
        "own milk alone where what is made surely covers the supplement, else donor milk, then formula"
    ),
    "expressing": message("by goal: build, keep, relieve, wean; none where nothing asks for one"),
    "made": message(
        "what was expressed, by how long each breast had filled; none while that is not known"
    ),
    "weigh": message(
        "the earliest of: supplement or step, a flag, a named problem, the date the weights name"
    ),
}
"""By which rule a line came about whose parts had nothing to be computed from."""


def by_rule(rule: Message) -> tuple[Working, ...]:
    """The working of a line that is decided and not computed."""
    return (Working(formula=rule),)


def with_rule(line: Line) -> Line:
    """The line, with its rule where it has no working of its own."""
    if line.workings or line.part not in RULES:
        return line
    return msgspec.structs.replace(line, workings=by_rule(RULES[line.part]))
