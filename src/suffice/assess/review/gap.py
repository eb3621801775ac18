"""What nobody knows yet of an infant, as signs: silence is no good news.

A family stands with the settled ones only where somebody has looked and found nothing amiss.
"""

from __future__ import annotations

from suffice.assess.case import Case, Review
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Stool, TestWeight, Weight, Wet

TELLING = (Weight, TestWeight, Wet, Stool)
"""Kinds of facts that say something of whether milk goes in."""


def review_gaps(case: Case, review: Review) -> None:
    """Say what cannot be judged for want of facts; call it once the weights are reviewed."""
    review.sign("asked_before_birth", case.is_before_birth)
    review.sign("birth_is_not_known", case.born_at is None and not case.is_before_birth)
    if case.born_at is None:
        return
    is_telling = [isinstance(entry.fact, TELLING) for entry in case.entries]
    review.sign("nothing_seen", not any(is_telling))
    is_weighed = any(not one.is_birth for one in case.weighings)
    is_usable = any(not one.is_birth for one in usable(case))
    is_judged = bool(review.measures.keys() & {"loss_percent", "gain_g_per_day"})
    review.sign("only_clothed_weights", is_weighed and not is_usable)
    review.sign("weight_cannot_be_judged", is_weighed and not is_judged)
