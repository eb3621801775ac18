"""Whether an infant grows so well that a feed fewer than the leaflets say is no reason to wake it."""

from __future__ import annotations

from datetime import timedelta

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.output import Gained
from suffice.assess.review.result import Reviewed, sign
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Feed, FeedCount
from suffice.clinical.working import Figure
from suffice.message import Instant


def review_growing(
    case: Case, parameters: CareParameters, gained: Gained, change: Figure | None
) -> Reviewed:
    """The sign `growing_well`: back at birth weight, with a strong gain since the lowest weight, and still going up.

    The weight must have stood when feeds were last written down, so that no old one excuses few feeds; a
    strong gain of the weeks before excuses none where the last weight lies no higher than one before it.

    Args:
        case: The infant.
        parameters: What a strong gain is, and how long a weight stands.
        gained: What the weights say.
        change: The change from birth weight at the last weight; None where it is not known.
    """
    gain, weights = gained.since_lowest, [one for one in usable(case) if not one.is_birth]
    if gain is None or gain.low is None or change is None or not weights:
        return sign("growing_well", False)  # noqa: FBT003  # the finding itself
    *before, last = sorted(weights, key=lambda one: one.age_h)
    is_highest = all(one.weight_g < last.weight_g for one in before)
    at = case.at_age(last.age_h)
    fed = [entry.true_at for kind in (Feed, FeedCount) for entry, _ in case.facts(kind)]
    stands_until = at + timedelta(days=parameters.horizons.weight_second_week_d.value)
    is_strong = gain.low > 0 and gain.value >= parameters.output.strong_gain_g_per_day.value
    return sign(
        "growing_well",
        gained.has_risen
        and is_strong
        and is_highest
        and change.value >= 0
        and max(fed, default=at) <= stands_until,
        age_h=last.age_h,
        entry_ids=(last.entry_id,),
        at=Instant(at),
    )
