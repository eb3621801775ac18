"""Why gain and intake differ from a simple division, where they clearly do.

A reader divides the last two weights by their days, or adds up a day's test weights, and asks why the
engine says something else. Clearly: the division lies outside the engine's own 50 % interval.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from suffice.assess.results import EngineFacts
from suffice.inference.estimate import QUANTILE_95, Estimate
from suffice.message import Amount, Words, message


def why_not_divided(estimate: Estimate, facts: EngineFacts) -> Iterator[Words]:
    """Why the gain differs from the last two weights divided by their days, where it clearly does."""
    divided, gain = facts.divided_gain_g_per_day, estimate.gain
    if divided is None or gain.low_50 <= divided <= gain.high_50:
        return
    yield message(
        "The last two weights, divided by the days between, give {gain}. The engine also uses all"
        " other weights and what is usual at this age: one weight alone may be off by about"
        " {noise}.",
        gain=Amount(divided, "g/d"),
        noise=Amount(estimate.next_weighing.least_difference_g / (QUANTILE_95 * math.sqrt(2)), "g"),
    )
    if estimate.suspects:
        yield message("A weight that looks wrong counts for less than in the division.")
    if any(one.code == "milk-not-written" for one in estimate.cautions):
        yield message(
            "No supplement is recorded lately: the engine takes it that none was given, and that"
            " the breast made up for any part of it, from none to all."
        )


def why_not_weighed(estimate: Estimate, facts: EngineFacts) -> Iterator[Words]:
    """Why the intake differs from the sum of a day's test weights, where it clearly does."""
    weighed, taken = facts.weighed_day_ml, estimate.breast_intake
    if weighed is None or taken.low_50 <= weighed <= taken.high_50:
        return
    yield message(
        "The test weights of the last day that was weighed whole add up to {milk}. The engine"
        " adds what evaporates, allows for days that differ and for the scale, and uses the"
        " weights too.",
        milk=Amount(weighed, "mL/d"),
    )
