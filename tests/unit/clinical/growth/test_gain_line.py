"""Lines of gain by age and sex: against the published centiles, and without a cliff between months."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import numpy as np
import pytest

from suffice.assess.parameters import parameters_of
from suffice.clinical.growth.gain_line import Stretch, _score, gain_lines
from suffice.knowledge.store import load
from suffice.knowledge.tables import growth_standards

LINES = parameters_of(load()).gain_lines
PARAMETERS = parameters_of(load()).gain_line
SHARES = (0.01, 0.03, 0.05, 0.15, 0.25)

# WHO Child Growth Standards, growth velocity based on weight (2009), simplified field tables: 1-month
# weight increments, the interval and its 1st, 3rd, 5th, 15th, 25th and 50th centile in grams, divided by
# its days; boys, then girls.
PUBLISHED = {
    (28, 61): ((16.0, 19.6, 21.6, 26.9, 30.1, 36.3), (12.4, 15.7, 17.5, 22.2, 25.1, 30.6)),
    (61, 91): ((10.2, 13.2, 14.9, 19.2, 21.9, 27.2), (7.8, 10.7, 12.3, 16.5, 19.0, 23.9)),
    (91, 122): ((5.2, 7.8, 9.2, 13.0, 15.4, 19.9), (4.3, 6.9, 8.3, 12.1, 14.4, 18.9)),
    (122, 152): ((2.3, 5.0, 6.5, 10.4, 12.8, 17.4), (1.7, 4.3, 5.7, 9.5, 11.8, 16.3)),
    (152, 183): ((-0.5, 2.0, 3.3, 7.0, 9.3, 13.6), (-0.8, 1.7, 3.0, 6.6, 8.7, 12.9)),
    (183, 213): ((-2.5, 0.0, 1.4, 5.1, 7.4, 11.9), (-2.6, -0.1, 1.2, 4.9, 7.1, 11.5)),
    (213, 244): ((-3.8, -1.4, 0.0, 3.6, 5.8, 10.2), (-3.8, -1.4, -0.1, 3.5, 5.7, 10.0)),
    (244, 274): ((-5.1, -2.6, -1.2, 2.6, 4.9, 9.5), (-5.2, -2.7, -1.3, 2.3, 4.6, 9.1)),
    (274, 304): ((-6.1, -3.6, -2.2, 1.6, 4.0, 8.6), (-6.1, -3.7, -2.3, 1.4, 3.7, 8.2)),
    (304, 335): ((-6.7, -4.3, -2.9, 0.9, 3.2, 7.9), (-6.6, -4.2, -2.9, 0.8, 3.1, 7.5)),
    (335, 365): ((-7.6, -5.0, -3.5, 0.5, 3.0, 8.0), (-7.4, -4.8, -3.4, 0.5, 2.9, 7.7)),
}
# The same report, weight increments by birth weight, all groups, day 14 to 28: centile to g/day.
EARLY = {
    "male": {0.05: 350 / 14, 0.10: 450 / 14, 0.25: 550 / 14, 0.5: 650 / 14},
    "female": {0.05: 300 / 14, 0.10: 350 / 14, 0.25: 450 / 14, 0.5: 550 / 14},
}


@pytest.mark.parametrize("interval", PUBLISHED)
def test_over_each_published_month_the_lines_are_the_published_centiles(interval):
    for sex, expected in zip(("male", "female"), PUBLISHED[interval], strict=True):
        stretch = Stretch(*interval, sex)
        for share, g_per_day in zip((*SHARES, 0.5), expected, strict=True):
            assert LINES.line(share, stretch) == pytest.approx(g_per_day, abs=0.06)
            assert LINES.shares_below([g_per_day], stretch)[0][0] == pytest.approx(share, abs=0.004)


@pytest.mark.parametrize("sex", EARLY)
def test_from_day_14_to_28_they_are_the_increments_and_a_judged_first_line(sex):
    stretch = Stretch(14, 28, sex)
    for share, g_per_day in EARLY[sex].items():
        assert LINES.line(share, stretch) == pytest.approx(g_per_day)
    assert LINES.line(0.01, stretch) == PARAMETERS.early_first_g_per_day.value
    # Nothing is published between the judged first line and the 5th.
    assert LINES.line(0.03, stretch) == LINES.line(0.05, stretch)


def test_the_lines_rise_from_that_of_the_first_two_weeks_until_day_21_for_term_infants():
    at = [LINES.line(0.05, Stretch(day - 7, day, "male")) for day in (10, 14, 17.5, 21)]
    assert at == pytest.approx([15, 15, 20, 25])
    assert LINES.line(0.01, Stretch(7, 14, "male")) == PARAMETERS.early_first_g_per_day.value
    assert LINES.line(0.05, Stretch(7, 14, "male", is_term=False)) == 25


def test_a_gain_below_two_lines_that_lie_on_one_another_is_below_both():
    stretch = Stretch(14, 28, "male")
    assert LINES.shares_below([25.0], stretch)[0] == (0.05, 0.05)
    assert LINES.shares_below([24.99], stretch)[0][0] < 0.03
    assert LINES.shares_below([10.0], stretch)[0] == (0.01, 0.01)
    assert LINES.shares_below([9.99], stretch)[0][0] < 0.01


@pytest.mark.parametrize("sex", ["male", "female"])
def test_no_line_jumps_from_one_day_to_the_next(sex):
    for share in SHARES:
        at = [LINES.line(share, Stretch(age, age, sex)) for age in range(7, 400)]
        assert max(abs(np.diff(at))) < 2.4


@pytest.mark.parametrize("sex", ["male", "female", None])
def test_more_gain_is_never_a_smaller_share_and_a_higher_line_never_a_smaller_gain(sex):
    for age in range(7, 400, 3):
        for is_from_birth in (False, True):
            stretch = Stretch(0.0 if is_from_birth else age - 7.0, float(age), sex, is_from_birth)
            shares = LINES.shares_below([g / 2 for g in range(-80, 160)], stretch)
            assert all(a <= b for a, b in pairwise(shares))
            lines = [LINES.line(share, stretch) for share in SHARES]
            assert lines == sorted(lines)


def test_where_the_sex_is_not_known_the_higher_line_asks_and_only_what_is_sure_for_both_is_sure():
    both, boy, girl = (
        LINES.shares_below([14.0], Stretch(61, 91, sex))[0] for sex in (None, "male", "female")
    )
    assert both == (boy[0], girl[0])
    assert LINES.line(0.05, Stretch(61, 91, None)) == LINES.line(0.05, Stretch(61, 91, "male"))


def test_a_gain_counted_from_birth_is_held_to_the_first_month_and_to_nothing_before_two_weeks():
    """WHO 1-month increments, birth to 28 days: 5th centile 16.4 (boys) and 15.9 (girls) g/day."""
    for sex, g_per_day in (("male", 16.4), ("female", 15.9)):
        stretch = Stretch(0, 28, sex, is_from_birth=True)
        assert LINES.line(0.05, stretch) == pytest.approx(g_per_day, abs=0.06)
    assert LINES.shares_below([0.0], Stretch(0, 14, "male", is_from_birth=True))[0] == (1.0, 1.0)
    assert LINES.shares_below([0.0], Stretch(0, 20, "male", is_from_birth=True))[0][0] < 0.01
    just, after = (
        LINES.line(0.05, Stretch(0, day, "male", is_from_birth=True)) for day in (28.0, 28.01)
    )
    assert just == pytest.approx(after, abs=0.01)


def test_a_cohort_has_the_lines_of_its_infants_one_by_one():
    ages, male = [16.0, 76.0, 200.0, 76.0], [1.0, 0.0, 1.0, np.nan]
    found = LINES.lines(0.05, ages, male)
    for line, age, is_male in zip(found, ages, male, strict=True):
        sex = {1.0: "male", 0.0: "female"}.get(is_male)
        assert line == pytest.approx(LINES.line(0.05, Stretch(age, age, sex)))


def test_without_increments_of_the_early_interval_there_are_no_lines():
    from_day_10 = msgspec.structs.replace(PARAMETERS.lines_from_age_d, value=10)
    other = msgspec.structs.replace(PARAMETERS, lines_from_age_d=from_day_10)
    standards = growth_standards()
    with pytest.raises(ValueError, match="from day 10 to 28"):
        gain_lines(standards.velocity, standards.increments, other)


@pytest.mark.parametrize(("g_per_day", "score"), [(14.9, -np.inf), (15.0, np.inf), (20.0, np.inf)])
def test_where_a_clinic_lays_all_lines_on_one_another_a_gain_is_below_or_above_all(
    g_per_day, score
):
    assert _score(g_per_day, np.full(5, 15.0), np.linspace(-2.3, 0, 5)) == score
