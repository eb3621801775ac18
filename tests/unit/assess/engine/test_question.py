"""What the engine is asked: the gain that is too slow, and the one that is expected, by age and sex.

Sources of the numbers: WHO Child Growth Standards, growth velocity (2009), 1-month increments over the days of
each month (5th and 50th centile of girls in month 3: 12.3 and 23.9 g/day; of boys 14.9 and 27.2; of boys and girls
in month 2: 21.6 and 36.3, 17.5 and 30.6), and increments of day 14 to 28 (5th 25 and 21, median 47 and 39 g/day).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, weights
from suffice.assess.engine.question import AskedOf, ManyAskedOf, asked_of_many, question_of
from suffice.assess.parameters import parameters_of
from suffice.inference.evidence import Evidence
from suffice.inference.infant.answer import answer, preview
from unit.assess.review.reviewed import CONTENT

PARAMETERS = parameters_of(CONTENT)
TERM = 280


def asked(now_d, last_d=None, sex="female", gestation=TERM):
    return question_of(QUESTION, AskedOf(now_d, last_d, sex, gestation), PARAMETERS)


# The middle of month 2 is day 44.5, of month 3 day 76.
@pytest.mark.parametrize(
    ("age_d", "sex", "limit", "expected"),
    [
        (76, "female", 12.3, 23.9),
        (76, "male", 14.9, 27.2),
        (44.5, "male", 21.6, 36.3),
        (44.5, "female", 17.5, 30.6),
        (21, "male", 25, 47),
        (21, "female", 21, 39),
        (76, None, 14.9, 27.2),
    ],
)
def test_both_gains_are_those_of_the_who_tables(age_d, sex, limit, expected):
    question = asked(age_d, age_d, sex)
    assert question.gain_limit_g_per_day == pytest.approx(limit, abs=0.6)
    assert question.requirement_gain_g_per_day == pytest.approx(expected, abs=0.6)


def test_the_middle_infant_of_the_second_week_gains_what_the_tables_say():
    """WHO increments of day 7 to 14, all birth weights: 200 g (girls), 250 g (boys) in a week."""
    assert asked(14, 14, "female").requirement_gain_g_per_day == pytest.approx(200 / 7, abs=1.2)
    assert 25 < asked(10, 10, "male").requirement_gain_g_per_day < 250 / 7


def test_too_slow_goes_by_the_last_weight_and_expected_by_today():
    young, older = asked(76, 44.5), asked(76, 76)
    assert young.gain_limit_g_per_day > older.gain_limit_g_per_day
    assert young.requirement_gain_g_per_day == older.requirement_gain_g_per_day


def test_an_infant_born_preterm_is_asked_by_its_corrected_age():
    assert asked(76 + 21, 76 + 21, gestation=259 - 1).gain_limit_g_per_day == pytest.approx(
        asked(75, 75).gain_limit_g_per_day, abs=0.5
    )


@pytest.mark.parametrize("day", [7, 10, 13.9])
def test_an_infant_born_late_preterm_is_asked_what_the_rules_ask_in_its_second_week(day):
    """20 g a day from 34+0 to 36+6, as the row `late-preterm-slow-gain`; 15 of infants born at term."""
    assert [asked(day, day, gestation=born).gain_limit_g_per_day for born in (238, 258)] == [20, 20]
    assert asked(day, day, gestation=259).gain_limit_g_per_day == 15


def test_what_the_rules_ask_before_term_is_the_least_until_two_weeks_past_it():
    rules = PARAMETERS.gain_rules
    raised = msgspec.structs.replace(rules.late_preterm_g_per_day, value=30.0)
    stricter = replace(
        PARAMETERS, gain_rules=msgspec.structs.replace(rules, late_preterm_g_per_day=raised)
    )
    early, last_d = 238, 280 - 238 + rules.late_preterm_until_corrected_d.value

    def limit(day, parameters):
        infant = AskedOf(day, day, "female", early)
        return question_of(QUESTION, infant, parameters).gain_limit_g_per_day

    assert [limit(day, stricter) for day in (7, 20, last_d - 0.01)] == [30, 30, 30]
    assert limit(last_d, stricter) == limit(last_d, PARAMETERS) < 30


def test_neither_gain_has_a_step_from_hour_to_hour():
    """From day 14 on, where the lines begin, to the age up to which the engine is asked."""
    hours = range(14 * 24, 100 * 24)
    for name in ("gain_limit_g_per_day", "requirement_gain_g_per_day"):
        course = [getattr(asked(hour / 24, hour / 24), name) for hour in hours]
        assert max(abs(b - a) for a, b in pairwise(course)) < 0.15


GIRL = Evidence(
    now_d=84.0,
    birth_weight_g=3300.0,
    birth_scale="clinic",
    sex="female",
    gestation_days=TERM,
    mode="vaginal",
    multiple_count=1,
    weights=weights((28.0, 4000.0), (42.0, 4400.0), (56.0, 4750.0), (84.0, 5226.0)),
)
"""17 g/day in her third month, the 17th WHO centile: slow, and no cause to call anything short."""


def test_a_girl_on_the_seventeenth_centile_is_not_likely_short():
    question = question_of(QUESTION, AskedOf(84.0, 84.0, "female", TERM), PARAMETERS)
    found = answer(GIRL, POPULATION, question, seed=1)
    limit = CONTENT.constant("ranking.likely_short_fraction").value
    assert found.intake_short_probability < limit
    flat = msgspec.structs.replace(
        question, gain_limit_g_per_day=20.0, requirement_gain_g_per_day=20.0
    )
    assert answer(GIRL, POPULATION, flat, seed=1).intake_short_probability > limit


def test_the_requirement_allows_for_the_expected_gain_and_short_is_asked_of_the_line():
    question = question_of(QUESTION, AskedOf(84.0, 84.0, "female", TERM), PARAMETERS)
    found = preview(GIRL, POPULATION, question)
    more = msgspec.structs.replace(question, requirement_gain_g_per_day=40.0)
    higher = preview(GIRL, POPULATION, more)
    assert higher.requirement.median > found.requirement.median
    assert higher.share_of_requirement.median < found.share_of_requirement.median
    assert higher.intake_short_probability == found.intake_short_probability
    stricter = msgspec.structs.replace(question, gain_limit_g_per_day=25.0)
    assert preview(GIRL, POPULATION, stricter).intake_short_probability > 0.5
    assert preview(GIRL, POPULATION, stricter).requirement == found.requirement


def test_a_cohort_is_asked_as_each_of_its_infants():
    """Every age, sex and gestation, late preterm and not known among them, and weights long before."""
    rng = np.random.default_rng(8)
    last_d = rng.uniform(0, 100, 300)
    now_d = last_d + rng.choice([0, 0, 3, 12], 300)
    sexes = rng.choice([0.0, 0.5, 1.0], 300)
    gestation = rng.choice([np.nan, 240.0, 250.0, 258.0, 259.0, 280.0], 300)
    many = asked_of_many(QUESTION, ManyAskedOf(now_d, last_d, sexes, gestation), PARAMETERS)
    names = {0.0: "female", 0.5: None, 1.0: "male"}
    for k in range(300):
        weeks = None if np.isnan(gestation[k]) else int(gestation[k])
        alone = asked(now_d[k], last_d[k], names[sexes[k]], weeks)
        assert many.gain_limit_g_per_day[k] == pytest.approx(alone.gain_limit_g_per_day, rel=1e-9)
        assert many.requirement_gain_g_per_day[k] == pytest.approx(
            alone.requirement_gain_g_per_day, rel=1e-9
        )


@pytest.mark.parametrize("gestation", [TERM, 250, None])
def test_the_lines_of_gain_hold_from_their_first_age_on(gestation):
    """A weight of day 14 itself is asked as one of a minute later, also of an infant born before term."""
    at, later = (asked(day, day, gestation=gestation) for day in (14, 14.001))
    assert at.gain_limit_g_per_day == pytest.approx(later.gain_limit_g_per_day, abs=0.01)
