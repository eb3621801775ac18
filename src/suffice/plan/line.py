"""One line of a proposal: what it is about, what it says, and how it came about."""

from __future__ import annotations

from typing import Literal

import msgspec

from suffice.clinical.working import Working
from suffice.message import Words

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
