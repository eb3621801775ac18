"""Every age by the day and every gain by the gram: no cliff, and a lower gain never a lower level.

The lines are the WHO velocity tables (2009; tests/unit/clinical/growth/test_gain_line.py holds them
against the published centiles); here the rows that ask them are swept as a whole.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import msgspec
import pytest

from conditions import evaluate
from suffice.assess.flags import facts_of
from suffice.assess.review.gain import review_gain
from suffice.assess.rules.truth import Truth
from suffice.clinical.weight.weighing import Weighing
from sweeps import each
from unit.assess.review.reviewed import CONTENT, PARAMETERS, a_case

ROWS = tuple(row for row in CONTENT.flags if row.topic == "gain")
STEPS = {"physician": 3, "consultant": 2, "look": 1, "note": 0}
"""A note ranks nobody: to be calm and to be noted are one step."""
GAINS = range(-40, 46)
FIRST_AGE_D, LAST_AGE_D = 7, 365
TURN_D = 3


@cache
def a_case_of(sex):
    who = "39+0" if sex is None else f"{sex}, 39+0"
    return a_case(f"{who}, vaginal", "365 d: 9000 g", "365.1 d")


@cache
def step_of(sex, age_d, days, gain):
    """The step of the gravest row that holds for two weights on one scale, the only ones there are."""
    first_g = 3500.0 + 15 * age_d
    first = Weighing(age_h=24.0 * (age_d - days), weight_g=first_g, scale="ward")
    last = Weighing(age_h=24.0 * age_d, weight_g=first_g + gain * days, scale="ward")
    case = a_case_of(sex)
    reviewed = review_gain(case, (first, last), PARAMETERS, None).reviewed
    facts = msgspec.structs.replace(facts_of(case, reviewed), age_h=24.0 * age_d)
    held = (row for row in ROWS if evaluate(row.when, facts, CONTENT).truth is Truth.TRUE)
    return max((STEPS[row.level] for row in held), default=0)


def ages(days):
    return range(max(FIRST_AGE_D, days + TURN_D), LAST_AGE_D + 1)


@pytest.mark.slow
@pytest.mark.parametrize("days", [7, 14, 28])
@pytest.mark.parametrize("sex", ["boy", "girl"])
def test_a_lower_gain_is_never_at_a_lower_level_and_no_gram_and_no_day_is_a_cliff(sex, days):
    for age_d in ages(days)[:-1][:: each(46)]:
        levels = [step_of(sex, age_d, days, gain) for gain in GAINS]
        where = (sex, age_d, days)
        assert all(low >= high for low, high in pairwise(levels)), (where, levels)
        assert all(low - high <= 1 for low, high in pairwise(levels)), (where, levels)
        a_day_older = [step_of(sex, age_d + 1, days, gain) for gain in GAINS]
        assert all(abs(a - b) <= 1 for a, b in zip(levels, a_day_older, strict=True)), where


@pytest.mark.slow
@pytest.mark.parametrize("days", [7, 28])
def test_where_the_sex_is_not_known_no_level_is_lower_than_that_of_both_sexes(days):
    for age_d in ages(days)[:: each(40)]:
        for gain in GAINS:
            both, boy, girl = (step_of(sex, age_d, days, gain) for sex in (None, "boy", "girl"))
            assert min(boy, girl) <= both <= max(boy, girl), (age_d, days, gain)
