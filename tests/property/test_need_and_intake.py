"""Need grows with weight; known intake is never more than the log says; neither depends on the date."""

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinical_constants import BORN_AT, INFANT, entry, hours
from suffice.clinical.entry import Feed, TestWeight
from suffice.clinical.milk.feed_size import FeedSizeParameters, expected_feed_ml
from suffice.clinical.milk.known_intake import KnownIntakeParameters, known_intake
from suffice.clinical.milk.observed_intake import IntakeNorms, views
from suffice.clinical.milk.requirement import (
    EnergyParameters,
    as_milk,
    energy_requirement,
    percent_met,
)
from suffice.clinical.milk.test_weight import TestWeightParameters
from suffice.clinical.temperature import TemperatureLimits, judge_temperature
from suffice.knowledge.store import load

CONTENT = load()


def group(kind):
    return kind.from_content(CONTENT.flat, CONTENT.series, CONTENT.wordings)


ENERGY, NORMS = group(EnergyParameters), group(IntakeNorms)
KNOWN, WEIGHING = group(KnownIntakeParameters), group(TestWeightParameters)
FEEDS, TEMPERATURES = group(FeedSizeParameters), group(TemperatureLimits)

weights_g = st.floats(2500, 12000)
ages_d = st.floats(14, 364)
sexes = st.sampled_from(["male", "female", None])
feedings = st.sampled_from(["breastfed", "formula", "all"])


@given(weights_g, st.floats(1, 2000), ages_d, sexes, feedings)
def test_a_heavier_infant_needs_more(weight, more_g, age, sex, feeding):
    def need(grams):
        return energy_requirement(
            grams, age, ENERGY, sex=sex, feeding=feeding, gestation_days=280
        ).value

    assert need(weight + more_g) > need(weight)


@given(weights_g, ages_d, feedings)
def test_an_unknown_sex_lies_between_boys_and_girls(weight, age, feeding):
    girls, unknown, boys = (
        energy_requirement(weight, age, ENERGY, sex=sex, feeding=feeding, gestation_days=280).value
        for sex in ("female", None, "male")
    )
    assert min(girls, boys) <= unknown <= max(girls, boys)


def first_answer(weight, age, sex, feeding):
    found = views(weight, age, ENERGY, NORMS, sex=sex, gestation_days=280, feeding=feeding)
    return next(one.volume_ml_per_day for one in found if one.volume_ml_per_day).value


@pytest.mark.parametrize("feeding", ["breastfed", "formula"])
@pytest.mark.parametrize("sex", ["male", "female", None])
@pytest.mark.parametrize("weight", [3000.0, 7000.0])
def test_need_by_the_hour_has_no_cliff(weight, sex, feeding):
    """From birth to the age from which milk alone is no longer asked, at one weight, hour by hour.

    In the first days what infants take rises by 2 mL/kg an hour; later nothing moves by a mL an hour.
    Read as steps by month the need of one boy fell from 879 to 744 mL between two hours of day 91.
    """
    until_h = int(ENERGY.milk_need_until_d.value * 24)
    course = [first_answer(weight, hour / 24, sex, feeding) for hour in range(until_h)]
    early_h = 5 * 24
    moves = [abs(later - earlier) for earlier, later in pairwise(course)]
    assert max(moves[:early_h]) <= 2 * weight / 1000
    assert max(moves[early_h:]) <= 1


@given(weights_g, st.floats(0, 364), sexes, st.floats(0, 1 / 24))
def test_no_answer_of_any_source_jumps_while_it_is_given(weight, age, sex, later):
    before, after = (
        views(weight, at, ENERGY, NORMS, sex=sex, gestation_days=280) for at in (age, age + later)
    )
    if len(before) == len(after):
        for one, other in zip(before, after, strict=True):
            if one.volume_ml_per_day and other.volume_ml_per_day:
                moved = abs(one.volume_ml_per_day.value - other.volume_ml_per_day.value)
                assert moved <= max(8.0, 2 * weight / 1000)


@given(weights_g, ages_d, sexes)
def test_taking_the_need_meets_it(weight, age, sex):
    need = as_milk(energy_requirement(weight, age, ENERGY, sex=sex, gestation_days=280), ENERGY)
    met = percent_met(need, need)
    assert met.value == pytest.approx(100)
    assert met.low < 100 < met.high


@given(st.floats(500, 12000), st.floats(0, 500), sexes, st.integers(160, 300) | st.none())
def test_every_view_answers_or_refuses_and_volumes_are_positive(weight, age, sex, gestation):
    for view in views(weight, age, ENERGY, NORMS, sex=sex, gestation_days=gestation):
        assert (view.volume_ml_per_day is None) != (view.refusal is None)
        if view.volume_ml_per_day is not None:
            assert view.volume_ml_per_day.value > 0
            assert view.volume_ml_per_day.working.constants


@given(st.floats(0, 95.9), st.floats(0, 95.9))
def test_feeds_never_shrink_in_the_first_days(one, other):
    younger, older = sorted([one, other])
    assert expected_feed_ml(younger, FEEDS).high <= expected_feed_ml(older, FEEDS).high


@given(st.floats(34, 42), st.floats(34, 42))
def test_a_warmer_infant_is_never_judged_cooler(one, other):
    order = ["low", "take again", "usual", "take again", "fever"]

    def rank(celsius):
        verdict = judge_temperature(celsius, TEMPERATURES, age_d=5).verdict
        return 3 if verdict == "take again" and celsius > 37 else order.index(verdict)

    cooler, warmer = sorted([one, other])
    assert rank(cooler) <= rank(warmer)


facts = st.one_of(
    st.builds(
        Feed,
        milk=st.sampled_from(["breast", "expressed", "donor", "formula"]),
        volume_ml=st.none() | st.integers(0, 150).map(float),
    ),
    st.builds(
        TestWeight,
        before_g=st.just(4000.0),
        after_g=st.integers(3995, 4150).map(float),
        minutes=st.none() | st.integers(5, 60).map(float),
        same_clothes=st.sampled_from([True, None, False]),
    ),
)
logs = st.lists(st.tuples(facts, st.integers(0, 200).map(lambda half: half / 2)), max_size=14)


def known(log, as_of_h=100.0, shift=timedelta(0)):
    entries = [entry(fact, at, true_at=hours(at) + shift) for fact, at in log]
    return known_intake(
        entries,
        INFANT,
        born_at=BORN_AT + shift,
        as_of=hours(as_of_h) + shift,
        parameters=KNOWN,
        weighing=WEIGHING,
    )


@given(logs)
def test_the_sum_is_that_of_its_milks(log):
    found = known(log)
    total = sum(share.volume_ml for share in found.by_milk)
    assert (found.volume_ml.value if found.volume_ml else 0) == pytest.approx(total)
    assert sum(share.feeds for share in found.by_milk) == found.known_feeds


@given(logs)
def test_only_a_whole_log_gives_a_day_and_an_upper_end(log):
    found = known(log)
    assert (found.per_day_ml() is not None) == found.is_whole
    if found.volume_ml is not None:
        assert (found.volume_ml.high is not None) == found.is_whole
    if found.unmeasured_feeds:
        assert not found.is_whole


@given(logs, st.floats(77, 100))
def test_an_unmeasured_feed_adds_nothing_and_takes_wholeness_away(log, at):
    before = known(log)
    after = known([*log, (Feed(milk="formula"), at)])
    assert after.by_milk == before.by_milk
    assert not after.is_whole


@given(logs, st.randoms(use_true_random=False))
def test_the_order_of_entries_is_irrelevant(log, random):
    shuffled = list(log)
    random.shuffle(shuffled)
    assert known(shuffled) == known(log)


@given(logs, st.integers(-20000, 20000))
def test_the_date_is_irrelevant(log, hours_later):
    shift = timedelta(hours=hours_later)
    plain, moved = known(log), known(log, shift=shift)
    assert moved.by_milk == plain.by_milk
    assert moved.longest_gap_h == pytest.approx(plain.longest_gap_h)
    assert moved.is_whole == plain.is_whole
