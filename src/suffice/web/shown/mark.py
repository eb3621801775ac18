"""Tiers and levels as a shape and a word; colour only repeats what both say."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import msgspec

from suffice.assess.results import Tier
from suffice.language.kinds import LEVELS, TIERS
from suffice.message import message
from suffice.web.shown.wording import as_heading


class Mark(msgspec.Struct, frozen=True):
    """The name of a shape in marks.svg, and the word beside it."""

    shape: str
    word: str


TIER_SHAPES: Final[Mapping[Tier, str]] = {
    Tier.NOW: "now",
    Tier.TODAY: "today",
    Tier.HANDED_OVER: "handed-over",
    Tier.WITHIN_A_DAY: "within-a-day",
    Tier.NOT_KNOWN: "not-known",
    Tier.LOOK_AGAIN: "look-again",
    Tier.SETTLED: "settled",
}
LEVEL_SHAPES: Final[Mapping[str, str]] = {
    "emergency": "now",
    "physician": "today",
    "consultant": "within-a-day",
    "look": "look-again",
    "note": "note",
}
NEVER_ASSESSED: Final = message("not assessed")


def tier_mark(tier: Tier | None) -> Mark:
    """The mark of a tier; a family that was never assessed has its own."""
    if tier is None:
        return Mark("not-known", as_heading(NEVER_ASSESSED))
    return Mark(TIER_SHAPES[tier], as_heading(TIERS[tier.name]))


def level_mark(level: str) -> Mark:
    """The mark of a finding's level: the shape of the group of the caseload that it leads to."""
    return Mark(LEVEL_SHAPES[level], as_heading(LEVELS[level]))
