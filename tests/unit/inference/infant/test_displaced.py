"""A change of milk given that no weight has seen: anything from none to all of it is made good by the breast."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from engine_setting import POPULATION, QUESTION, THRIVING
from suffice.inference.evidence import MilkGiven, TestWeighing
from suffice.inference.infant.answer import answer, preview
from suffice.inference.infant.displaced import changed_kcal, displaced, seen_until
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import LATENTS_COUNT, Course
from suffice.inference.infant.outlook import supposed_rate

change = msgspec.structs.replace
WEIGHED_D = 10.0
"""The last weight of the infant of these tests; it is asked about three days later."""
ASKED = change(THRIVING, now_d=13.0)
PER_ML = POPULATION.given_milk_density


def a_day(before_ml: float, after_ml: float) -> tuple[MilkGiven, ...]:
    """Ten feeds a day from day 5: so much a day until the last weight, and so much after it."""
    ages = np.arange(5.05, 13.0, 0.1)
    daily = np.where(ages < WEIGHED_D, before_ml, after_ml)
    return tuple(
        MilkGiven(id=f"m{n}", age_d=float(age), volume_ml=float(ml) / 10)
        for n, (age, ml) in enumerate(zip(ages, daily, strict=True))
        if ml > 0
    )


def given(before_ml: float, after_ml: float):
    return change(ASKED, milk_given=a_day(before_ml, after_ml))


def changed(evidence, *ages_d, supposed_ml=0.0):
    return changed_kcal(
        evidence, np.array(ages_d), seen_until(evidence), supposed_ml * PER_ML, PER_ML
    )


def test_what_went_on_as_before_the_last_weight_is_no_change():
    steady = given(120, 120)
    assert changed(steady, 8.0, 10.0, 13.0, 20.0, supposed_ml=120) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("before_ml", "after_ml"), [(0, 100), (60, 160), (160, 60), (100, 0)])
def test_the_change_adds_up_from_the_last_weight_on(before_ml, after_ml):
    found = changed(given(before_ml, after_ml), 9.0, 10.0, 11.0, 13.0, 15.0, supposed_ml=after_ml)
    more = (after_ml - before_ml) * PER_ML
    assert found == pytest.approx([0, 0, more, 3 * more, 5 * more])


def test_milk_of_another_energy_counts_by_its_own():
    rich = tuple(change(one, kcal_per_ml=1.0) for one in a_day(0, 100))
    assert changed(change(ASKED, milk_given=rich), 13.0) == pytest.approx([300.0])


def test_a_whole_day_of_test_weights_sees_what_the_breast_gives_and_one_feed_does_not():
    assert seen_until(ASKED) == WEIGHED_D
    day = TestWeighing(id="t", age_d=12.0, transfer_g=500.0, feeds_count=8, whole_day=True)
    assert seen_until(change(ASKED, test_weighings=(day,))) == 12.0
    one = TestWeighing(id="t", age_d=12.0, transfer_g=60.0)
    assert seen_until(change(ASKED, test_weighings=(one,))) == WEIGHED_D
    later = change(day, age_d=14.0)
    assert seen_until(change(ASKED, test_weighings=(later,))) == WEIGHED_D
    assert seen_until(change(ASKED, weights=())) == 0.0


def courses(evidence, count=400):
    """The course asked for at some ages, its paths, and what they are made of: of the middle infant."""
    likelihood = Likelihood(evidence, POPULATION)
    ages = np.array([10.0, 13.0, 20.0])
    _, ml, kcal = rate = supposed_rate(evidence, QUESTION, POPULATION)
    assert kcal == pytest.approx(ml * PER_ML)
    course = Course(
        POPULATION, likelihood.course.birth, ages, evidence.milk_given, LATENTS_COUNT, rate
    )
    z = np.zeros((count, LATENTS_COUNT + course.knots_count))
    return course, course.paths(z), course.unfed(z)


def test_the_shares_run_evenly_from_none_to_all_of_what_was_given():
    began = given(0, 100)
    course, paths, unfed = courses(began)
    _, none, _ = courses(ASKED)
    even = (np.arange(400) + 0.5) / 400
    drawn = displaced(began, course, unfed, np.random.default_rng(1))
    for name in ("total", "tissue"):
        gained = (getattr(paths, name) - getattr(none, name))[0, 1:]
        shares = (getattr(paths, name) - getattr(drawn, name))[:, 1:] / gained
        assert np.sort(shares, axis=0) == pytest.approx(np.stack([even, even]).T, abs=0.01)
    lost_ml = paths.birth_kg * (paths.breast_ml_kg_d - drawn.breast_ml_kg_d)
    kcal = lost_ml[:, 2] * POPULATION.density_later * paths.density[:, 0]
    assert np.sort(kcal) == pytest.approx(100 * PER_ML * even, rel=0.02, abs=0.5)
    assert (np.argsort(kcal) == np.argsort(-drawn.total[:, 2])).all()
    assert not (np.diff(kcal) > 0).all(), "in no order"
    middle = displaced(began, course, unfed, None)
    assert middle.total[:, 1:] == pytest.approx((paths.total + none.total)[:, 1:] / 2)


@pytest.mark.parametrize("daily", [(60, 160), (160, 60), (100, 0)])
def test_all_of_it_made_good_is_the_course_of_the_milk_of_before(daily):
    asked = given(*daily)
    course, paths, unfed = courses(asked, 2)
    _, steady, _ = courses(given(daily[0], daily[0]), 2)
    half_way = displaced(asked, course, unfed, None)
    grams = 3400 * (2 * half_way.total - paths.total - steady.total)
    assert grams == pytest.approx(0.0, abs=1.0)


def test_without_a_change_the_paths_stay_and_no_number_is_drawn():
    rng = np.random.default_rng(1)
    course, paths, unfed = courses(ASKED)
    same = displaced(ASKED, course, unfed, rng)
    for name in ("total", "tissue", "breast_ml_kg_d"):
        assert (getattr(same, name) == getattr(paths, name)).all()
    assert rng.random() == np.random.default_rng(1).random()


def width(interval) -> float:
    return interval.high_80 - interval.low_80


SEEDS = range(4)
MORE_OR_LESS = [(0, 100), (60, 150), (150, 60), (100, 0)]


def mean_widths(evidence) -> np.ndarray:
    """Of gain, intake, intake at the breast and the weight in a week, over some seeds."""
    told = [answer(evidence, POPULATION, QUESTION, seed) for seed in SEEDS]
    return np.mean(
        [
            (
                *(width(one) for one in (it.gain, it.total_intake, it.breast_intake)),
                it.forecast.weight_g[7][5] - it.forecast.weight_g[7][1],
            )
            for it in told
        ],
        axis=0,
    )


@pytest.mark.parametrize(
    ("before_ml", "after_ml"), MORE_OR_LESS, ids=["began", "rose", "fell", "stopped"]
)
def test_nothing_is_narrower_where_milk_changed_after_the_last_weight(before_ml, after_ml):
    """Than with the same milk as before, and but for the scatter of the draws than with none."""
    seen = mean_widths(given(before_ml, after_ml))
    assert (seen > mean_widths(given(before_ml, before_ml))).all()
    assert (seen > 0.97 * mean_widths(ASKED)).all()


def test_the_middle_lies_half_way_between_all_gained_and_all_made_good():
    began = given(0, 100)
    (_, paths, _), (_, none, _) = courses(began, 1), courses(ASKED, 1)
    all_g = 1000 * paths.birth_kg[0, 0] * (paths.total - none.total)[0, 2]
    without, changed_by = (
        np.mean([answer(one, POPULATION, QUESTION, seed).forecast.weight_g[7][3] for seed in SEEDS])
        for one in (ASKED, began)
    )
    assert changed_by - without == pytest.approx(all_g / 2, rel=0.25)


def test_the_sketch_agrees_with_the_full_answer():
    evidence = given(60, 150)
    quick = preview(evidence, POPULATION, QUESTION)
    full = answer(evidence, POPULATION, QUESTION, 3)
    for name in ("gain", "total_intake", "breast_intake"):
        a, b = getattr(quick, name), getattr(full, name)
        assert abs(a.median - b.median) < 0.25 * width(b)


def test_more_milk_than_the_breast_ever_gave_leaves_it_nothing_and_not_less():
    flood = change(ASKED, milk_given=a_day(0, 2000))
    told = answer(flood, POPULATION, QUESTION, 1)
    assert told.breast_intake.low_95 >= 0.0
    assert told.is_refused
