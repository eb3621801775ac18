"""What nobody knows yet of an infant, as signs: silence is no good news.

A family stands with the settled ones only where somebody has looked and found nothing amiss.
"""

from __future__ import annotations

from suffice.assess.case import Case
from suffice.assess.review.result import Reviewed, sign, together
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Stool, TestWeight, Weight, Wet

TELLING = (Weight, TestWeight, Wet, Stool)
"""Kinds of facts that say something of whether milk goes in."""


def review_gaps(case: Case, *, weight_is_judged: bool) -> Reviewed:
    """What cannot be judged for want of facts.

    Args:
        case: The infant.
        weight_is_judged: Whether a loss or a gain is put before the table of flags.
    """
    signs = [
        sign("asked_before_birth", case.is_before_birth),
        sign("birth_is_not_known", case.born_at is None and not case.is_before_birth),
    ]
    if case.born_at is None:
        return together(signs)
    is_telling = [isinstance(entry.fact, TELLING) for entry in case.entries]
    is_weighed = any(not one.is_birth for one in case.weighings)
    is_usable = any(not one.is_birth for one in usable(case))
    return together(
        [
            *signs,
            sign("nothing_seen", not any(is_telling)),
            sign("only_clothed_weights", is_weighed and not is_usable),
            sign("weight_cannot_be_judged", is_weighed and not weight_is_judged),
        ]
    )
