"""Whether a supplement was stopped or cut lately, from the feeds that were written down.

Days without any feed on the record say nothing: what counts ends with the latest feed of any kind,
so the clock alone neither stops a supplement nor gives it again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from suffice.assess.case import Case
from suffice.assess.parameters import CareParameters
from suffice.assess.review.result import Reviewed, sign, together
from suffice.assess.review.weight import usable
from suffice.clinical.entry import Entry, Feed
from suffice.clinical.working import Constant, Quantity, Working
from suffice.message import Instant, message

FEEDS_OF_A_DAY: Final = "feeding.few_feeds_count_per_day"
"""Key of how many feeds a day must hold to be taken for written down."""


def review_supplement(case: Case, parameters: CareParameters) -> Reviewed:
    """The sign that the milk given beside the breast fell to half or less, and the same where no weight shows it yet.

    The second is told only where each of those days was written down: what nobody wrote is not stopped.

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
    is_cut = is_ml <= rules.supplement_cut_fraction.value * was_ml
    cut = sign(
        "supplement_cut",
        is_cut,
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
    weighed = max((case.at_age(one.age_h) for one in usable(case)), default=None)
    if not is_cut or (weighed is not None and weighed > lately):
        return cut
    is_written = _each_day_is_written(case, until, now, rules.supplement_days)
    unweighed = cut.signs["supplement_cut"] if is_written else ()
    return together([cut, Reviewed(signs={"supplement_cut_unweighed": unweighed})])


def _each_day_is_written(
    case: Case, until: datetime, given: Sequence[tuple[Entry, float]], over_days: Constant
) -> bool:
    """Whether so many feeds were written down on each of the last days that a bottle would be among them, none without its amount."""
    if any(_is_of_unknown_size(entry) for entry, _ in given):
        return False
    least = case.content.constant(FEEDS_OF_A_DAY).value
    on = Counter((until - entry.true_at) // timedelta(days=1) for entry, _ in given)
    return all(on[day] >= least for day in range(math.ceil(over_days.value)))


def _is_of_unknown_size(entry: Entry) -> bool:
    """Whether milk was given beside the breast, and nobody wrote how much."""
    fact = entry.fact
    return isinstance(fact, Feed) and fact.milk != "breast" and fact.volume_ml is None


def _volume_ml(feed: Feed) -> float:
    """What was given beside the breast; 0 for a feed at the breast or of unknown volume."""
    return 0.0 if feed.milk == "breast" or feed.volume_ml is None else feed.volume_ml
