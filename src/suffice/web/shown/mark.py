"""Tiers and levels as a shape and a word; colour only repeats what both say."""

from __future__ import annotations

from typing import Any, Final

import msgspec
from django.utils.translation import gettext_lazy as _

from suffice.assess.results import Tier


class Mark(msgspec.Struct, frozen=True):
    """The name of a shape in marks.svg, and the word beside it."""

    shape: str
    word: Any


TIER_MARKS: Final = {
    Tier.RED: Mark("now", _("Now")),
    Tier.LIKELY_SHORT: Mark("likely-short", _("Likely short")),
    Tier.OVERDUE: Mark("overdue", _("Overdue")),
    Tier.WATCH: Mark("watch", _("Watch")),
    Tier.SETTLED: Mark("settled", _("Settled")),
}
NEVER_ASSESSED: Final = Mark("overdue", _("Not assessed"))
LEVEL_MARKS: Final = {
    "red": Mark("red", _("Red flag")),
    "amber": Mark("amber", _("Look")),
    "note": Mark("note", _("Note")),
}


def tier_mark(tier: Tier | None) -> Mark:
    """The mark of a tier; a family that was never assessed has its own."""
    return NEVER_ASSESSED if tier is None else TIER_MARKS[tier]
