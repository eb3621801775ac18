"""What nobody knows yet of an infant, said as something to look at: silence is no good news.

A family stands with the settled ones only where somebody has looked and found nothing amiss.
"""

from __future__ import annotations

from suffice.assess.case import Case, Review
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Stool, TestWeight, Weight, Wet
from suffice.message import message

TELLING = (Weight, TestWeight, Wet, Stool)
"""Kinds of facts that say something of whether milk goes in."""


def review_gaps(case: Case, review: Review) -> None:
    """Write what cannot be judged for want of facts; call it once the weights are reviewed."""
    if case.is_before_birth:
        review.find(
            "before-birth",
            "amber",
            message(
                "This instant lies before birth, so nothing that goes by age is judged.",
            ),
        )
        return
    if case.born_at is None:
        review.find(
            "birth-unknown",
            "amber",
            message(
                "The instant of birth is not known, so nothing that goes by age is judged: enter the"
                " birth facts.",
            ),
        )
        return
    if not any(isinstance(entry.fact, TELLING) for entry in case.entries):
        review.find(
            "nothing-seen", "amber", message("No weight, wet or stool is known since birth.")
        )
        return
    later = [one for one in case.weighings if not one.is_birth]
    if later and not any(not one.is_birth for one in usable(case)):
        review.find(
            "weight-not-judged",
            "amber",
            message(
                "Every weight since birth was taken with clothes on, and they hide a loss: weigh again"
                " without them.",
            ),
        )
    elif later and not review.measures.keys() & {"loss_percent", "gain_g_per_day"}:
        review.find(
            "weight-not-judged",
            "amber",
            message(
                "The birth weight is not known, and the weights since show no gain yet: neither loss"
                " nor gain is judged.",
            ),
        )
