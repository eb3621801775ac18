"""Wets or stools as somebody counted them, by hours of age, for the tests of counts and of their norms."""

from __future__ import annotations

from clinical_constants import BORN_AT, hours
from suffice.clinical.output_count import Count, Observation, count


def span(number: int, end_h: float, over_h: float) -> Observation:
    """A count over a stated time."""
    return Observation(count=number, true_at=hours(end_h), over_h=over_h)


def once(at_h: float, number: int = 1) -> Observation:
    """So many at one time."""
    return Observation(count=number, true_at=hours(at_h))


def counted(
    seen: list[Observation], as_of_h: float, window_h: float = 24.0, stale_h: float = 0.0
) -> Count:
    """What they come to as of an age."""
    return count(seen, hours(as_of_h), window_h=window_h, born_at=BORN_AT, stale_h=stale_h)
