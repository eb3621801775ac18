"""What a policy would change on the caseload, in words."""

from __future__ import annotations

from suffice.assess.results import Tier
from suffice.care.caseload.effect import Effect
from suffice.language.kinds import TIERS
from suffice.message import Listed, Words, joined, message


def effect_words(effect: Effect) -> Words:
    """How many families would move, and how many each group would hold."""
    moved = message(
        "Of your {count} family, {more} would be in a more urgent group and {less} in a less"
        " urgent one.",
        plural="Of your {count} families, {more} would be in a more urgent group and {less} in a"
        " less urgent one.",
        count=effect.looked_count,
        more=effect.more_urgent_count,
        less=effect.less_urgent_count,
    )
    groups = tuple(
        message(
            "{group} {before}, then {after}",
            group=TIERS[tier.name],
            before=effect.before.get(tier, 0),
            after=effect.after.get(tier, 0),
        )
        for tier in Tier
        if effect.before.get(tier, 0) != effect.after.get(tier, 0)
    )
    listed: Words = message("Now {groups}.", groups=Listed(groups)) if groups else ""
    left: Words = ""
    if effect.looked_count < effect.all_count:
        left = message(
            "Only the {count} most urgent of {all} families were looked at.",
            count=str(effect.looked_count),
            all=str(effect.all_count),
        )
    return joined(moved, listed, left, message("The engine was not asked."))
