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
    Tier.RED: "now",
    Tier.LIKELY_SHORT: "likely-short",
    Tier.OVERDUE: "overdue",
    Tier.WATCH: "watch",
    Tier.SETTLED: "settled",
}
NEVER_ASSESSED: Final = message("not assessed")


def tier_mark(tier: Tier | None) -> Mark:
    """The mark of a tier; a family that was never assessed has its own."""
    if tier is None:
        return Mark("overdue", as_heading(NEVER_ASSESSED))
    return Mark(TIER_SHAPES[tier], as_heading(TIERS[tier.name]))


def level_mark(level: str) -> Mark:
    """The mark of a finding's level."""
    return Mark(level, as_heading(LEVELS[level]))
