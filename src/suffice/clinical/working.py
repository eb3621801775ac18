"""A computed value together with how it came about.

Every number that reaches a reader is a :class:`Figure`: a value, its unit and the
:class:`Working` behind it (formula, inputs, constants with their sources). A
:class:`Constant` comes from the content store; no clinical function owns one.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from suffice.message import Words

SourceBasis = Literal[
    "published", "common practice", "derived", "judgement", "from memory, to verify"
]


class Constant(msgspec.Struct, frozen=True, kw_only=True):
    """One clinical value with its provenance, as the content store holds it.

    Attributes:
        key: Dotted name in the content store, unique.
        value: The value in force (the clinic's where it overrides ours).
        unit: Unit of `value`, as listed in knowledge/units.toml.
        basis: How far it can be trusted.
        source: Short citation; for 'common practice' the words 'common practice, no source'.
        locator: Where in the source it stands.
        read: How much of the source was seen, a key of language/kinds.READINGS; empty without one.
        judged_on: For 'judgement': when.
        low: Lowest value over the sources that were read.
        high: Highest value over the sources that were read.
        applies_to: Whom it applies to.
        overridden_from: The value of the content store, where a clinic's policy replaces it.
    """

    key: str
    value: float
    unit: str
    basis: SourceBasis
    source: str
    locator: Words = ""
    read: str = ""
    judged_on: date | None = None
    low: float | None = None
    high: float | None = None
    applies_to: str = ""
    overridden_from: float | None = None


class Quantity(msgspec.Struct, frozen=True, kw_only=True):
    """A named input of a computation, with its unit."""

    name: Words
    value: float
    unit: str


class Working(msgspec.Struct, frozen=True, kw_only=True):
    """How a value came about: formula in words, what went in, which constants were used."""

    formula: Words
    inputs: tuple[Quantity, ...] = ()
    constants: tuple[Constant, ...] = ()
    notes: tuple[Words, ...] = ()


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A computed value with its working; `low`..`high` is its interval at `level` (0 to 1)."""

    value: float
    unit: str
    working: Working
    low: float | None = None
    high: float | None = None
    level: float | None = None
