"""Whether a supplement was stopped or cut lately, from the feeds that were written down.

Days without any feed on the record say nothing: what counts ends with the latest feed of any kind,
so the clock alone neither stops a supplement nor gives it again.
"""

from __future__ import annotations

from datetime import timedelta

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, sign
from suffice.clinical.entry import Feed
from suffice.clinical.working import Quantity, Working
from suffice.message import Instant, message


def review_supplement(case: Case, parameters: CareParameters) -> Reviewed:
    """The sign that the milk given beside the breast fell to half or less of what it had been.

    Args:
        case: The infant.
        parameters: Over which days, and to what share.
    """
    rules = parameters.gain_rules
    feeds = case.facts(Feed)
    if not feeds:
        return Reviewed()
    until = feeds[-1][0].true_at
    lately = until - timedelta(days=rules.supplement_days.value)
    back = until - timedelta(days=rules.supplement_back_days.value)
    given = [(entry, _volume_ml(fact)) for entry, fact in feeds if entry.true_at > back]
    before = [(entry, ml) for entry, ml in given if entry.true_at <= lately and ml]
    if not before:
        return Reviewed()
    since = before[0][0].true_at
    days = max((lately - since) / timedelta(days=1), 1.0)
    was_ml = sum(ml for _, ml in before) / days
    now = [(entry, ml) for entry, ml in given if entry.true_at > lately]
    is_ml = sum(ml for _, ml in now) / rules.supplement_days.value
    return sign(
        "supplement_cut",
        is_ml <= rules.supplement_cut_fraction.value * was_ml,
        age_h=case.age_at(until),
        at=Instant(until),
        degree=1.0 - is_ml / was_ml,
        entry_ids=tuple(entry.id for entry, ml in [*before, *now] if ml),
        working=Working(
            formula=message("supplement of the last days next to that of the days before"),
            inputs=(
                Quantity(name=message("before"), value=was_ml, unit="mL/d"),
                Quantity(name=message("lately"), value=is_ml, unit="mL/d"),
            ),
            constants=(
                rules.supplement_back_days,
                rules.supplement_days,
                rules.supplement_cut_fraction,
            ),
        ),
    )


def _volume_ml(feed: Feed) -> float:
    """What was given beside the breast; 0 for a feed at the breast or of unknown volume."""
    return 0.0 if feed.milk == "breast" or feed.volume_ml is None else feed.volume_ml
