"""What one test weight says of the feed: the milk taken, and how much of a usual feed that is."""

from __future__ import annotations

import msgspec

from suffice.assess.results import InfantAssessment
from suffice.clinical.milk.feed_size import feed_share_ml
from suffice.clinical.working import Constant, Figure


class OneFeed(msgspec.Struct, frozen=True, kw_only=True):
    """The milk of the latest test weight against a feed of that age.

    Attributes:
        transfer_ml: The milk taken, with its interval.
        share_percent: How much of a usual feed the milk taken is; None where no size of a feed is
            known, or where none was taken by the scale.
        feeds_count: Over how many feeds the milk of a usual day is shared; None where the size of a feed
            was published for the age.
    """

    transfer_ml: Figure
    share_percent: float | None = None
    feeds_count: int | None = None


def one_feed(infant: InfantAssessment, feeds_per_day: Constant) -> OneFeed | None:
    """The latest test weight of an infant against a usual feed; None where there is none.

    In the first days the published size of a feed counts, its middle; later the milk of a usual day
    shared over its feeds.

    Args:
        infant: The infant, assessed as of the test weight.
        feeds_per_day: How many feeds a day has at least.
    """
    taken = infant.figures.get("transfer_ml")
    if taken is None:
        return None
    size, count = infant.figures.get("feed_size_ml"), None
    figures = infant.figures
    # In the second week there is no requirement: what newborns of that age took stands in for it.
    day = figures.get("requirement_ml_per_day") or figures.get("observed_ml_per_day")
    if size is None and day is not None:
        count = round(feeds_per_day.value)
        size = feed_share_ml(day, count)
    if size is None or taken.value <= 0:
        return OneFeed(transfer_ml=taken)
    share = 100 * taken.value / size.value
    return OneFeed(transfer_ml=taken, share_percent=share, feeds_count=count)
