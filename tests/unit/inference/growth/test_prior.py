"""The growth prior: reference, stretched age, noise, mean and shift, each by its own formula."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from growth_cohorts import NAN, PRIOR, REFERENCE, three_infants, weighed
from suffice.errors import InputError
from suffice.inference.growth.prior import (
    Weighed,
    WeightReference,
    Worn,
    default_shift,
    lay_out,
    stacked,
    walk_covariance,
)

FLAT = replace(
    PRIOR,
    mean_z=np.zeros_like(PRIOR.mean_z),
    caesarean_z=np.zeros_like(PRIOR.caesarean_z),
    early_week_z=np.zeros_like(PRIOR.early_week_z),
    small_slope_z=np.zeros_like(PRIOR.small_slope_z),
)
"""A prior whose mean is the reference itself."""
LEVEL = WeightReference(
    median_g=np.array([[3000.0, 3100, 3300], [3200.0, 3200, 3200]]),
    sd_g=np.array([[300.0, 310, 330], [400.0, 400, 400]]),
)


def at(reference, male, *ages):
    median, sd = reference.at(np.array([male]), np.array([ages], dtype=np.float64))
    return median[0].tolist(), sd[0].tolist()


def one(age_d=(0.0,), weight_g=(3300.0,), *, caesarean=0.0, **more):
    return replace(
        weighed([list(age_d)], [list(weight_g)], **more), caesarean_share=np.array([caesarean])
    )


def mean_at(infant, *ages, prior=PRIOR):
    """Mean in growth z at some ages."""
    grid = lay_out(prior, REFERENCE, infant, np.array([ages], dtype=np.float64))
    median, unit = REFERENCE.at(infant.male_share, np.array([ages], dtype=np.float64))
    return ((grid.mean_g - median) / unit)[0]


def test_between_two_days_the_reference_is_straight_and_a_girl_is_no_boy():
    assert at(LEVEL, 0.0, 0, 0.25, 1, 1.5) == (
        [3000, 3025, 3100, 3200],
        [300, 302.5, 310, 320],
    )
    assert at(LEVEL, 1.0, 0.5) == ([3200], [400])


def test_an_infant_whose_sex_is_not_known_lies_between():
    assert at(LEVEL, 0.5, 1) == ([3150], [355])


def test_the_last_day_of_the_reference_can_still_be_asked_about():
    assert LEVEL.last_day == 2
    assert at(LEVEL, 0.0, 2) == ([3300], [330])


def test_time_has_slowed_to_half_at_the_stretch():
    step = 1e-4
    for age, speed in ((0.0, 1.0), (PRIOR.stretch_days, 0.5)):
        low, high = PRIOR.tau(np.array([age, age + step]))
        assert (high - low) / step * PRIOR.stretch_days == pytest.approx(speed, rel=1e-3)


def test_the_noise_rises_from_age_to_age_and_nowhere_else():
    newborn, weekly, older = (
        PRIOR.noise_newborn_days, PRIOR.noise_weekly_days, PRIOR.noise_older_days
    )  # fmt: skip
    ages = np.array([0.0, newborn, weekly, older, older + 100])
    noise = PRIOR.reading_noise_g(ages, PRIOR.noise_g)
    of_newborn, of_weekly, of_older = PRIOR.noise_g, PRIOR.noise_weekly_g, PRIOR.noise_older_g
    assert noise == pytest.approx([of_newborn, of_newborn, of_weekly, of_older, of_older])
    middle = PRIOR.tau(np.array([weekly, older])).mean()
    found = PRIOR.reading_noise_g(np.array([np.expm1(middle) * PRIOR.stretch_days]), PRIOR.noise_g)
    assert found == pytest.approx(np.sqrt(of_weekly * of_older))


@pytest.mark.parametrize(
    ("clothing", "off"),
    [("clothed", (220.0, 90.0)), ("dry diaper", (25.0, 10.0)), ("naked", (0, 0)), (None, (0, 0))],
)
def test_what_is_worn_is_taken_off_with_its_spread(clothing, off):
    worn = Worn(clothes_g=220, clothes_sd_g=90, dry_diaper_g=25, dry_diaper_sd_g=10)
    assert worn.taken_off(clothing) == off


def test_the_noise_of_a_site_rises_with_age_as_that_of_the_prior():
    ages = np.array([0.0, 40.0, 400.0])
    ratio = PRIOR.reading_noise_g(ages, 2 * PRIOR.noise_g) / PRIOR.reading_noise_g(
        ages, PRIOR.noise_g
    )
    assert ratio == pytest.approx(2.0)


def test_the_walk_is_one_with_itself_and_forgets_with_distance():
    apart = np.array([0.0, 0.1, 0.5, 1.0, 5.0])
    found = PRIOR.correlation(apart, np.zeros(5))
    assert found[0] == 1
    assert (np.diff(found) < 0).all()
    assert PRIOR.correlation(np.array(1.0), np.array(3.0)) == PRIOR.correlation(
        np.array(3.0), np.array(1.0)
    )


def test_the_walk_is_part_smooth_and_part_rough():
    apart = PRIOR.walk_length  # one length
    smooth, rough = (
        float(replace(PRIOR, smooth_share=share).correlation(np.array(apart), np.array(0.0)))
        for share in (1.0, 0.0)
    )
    # Matern 3/2 and exponential at one length.
    assert smooth == pytest.approx((1 + np.sqrt(3)) * np.exp(-np.sqrt(3)))
    assert rough == pytest.approx(np.exp(-1))
    assert PRIOR.correlation(np.array(apart), np.array(0.0)) == pytest.approx(
        PRIOR.smooth_share * smooth + (1 - PRIOR.smooth_share) * rough
    )


def test_chosen_infants_keep_what_is_theirs():
    three = replace(three_infants(), extra_noise_g=np.arange(15.0).reshape(3, 5))
    chosen = three.rows(np.array([2, 0]))
    assert chosen.count == 2
    np.testing.assert_array_equal(chosen.weight_g, three.weight_g[[2, 0]])
    assert chosen.gestation_days.tolist() == [252, 280]
    assert chosen.male_share.tolist() == [0, 0]
    np.testing.assert_array_equal(chosen.extra_noise_g, three.extra_noise_g[[2, 0]])
    assert three_infants().rows(np.array([True, False, True])).extra_noise_g is None


def test_weights_after_an_age_are_left_out_and_one_at_it_is_kept():
    cut = three_infants().until(7.0)
    assert (~np.isnan(cut.age_d)).sum(axis=1).tolist() == [2, 3, 2]
    np.testing.assert_array_equal(np.isnan(cut.age_d), np.isnan(cut.weight_g))
    by_infant = three_infants().until(np.array([0.0, 20.0, 6.9]))
    assert (~np.isnan(by_infant.age_d)).sum(axis=1).tolist() == [1, 5, 1]


GOOD = {
    "age_d": np.array([[0.0, 3.0]]),
    "weight_g": np.array([[3300.0, 3100.0]]),
    "male_share": np.zeros(1),
    "gestation_days": np.full(1, NAN),
    "caesarean_share": np.zeros(1),
}


def test_what_fits_together_is_taken():
    assert Weighed(**GOOD).count == 1


@pytest.mark.parametrize(
    "fault",
    [
        {"weight_g": np.array([[3300.0]])},
        {"weight_g": np.array([[3300.0, NAN]])},
        {"age_d": np.array([[0.0, NAN]])},
        {"male_share": np.zeros(2)},
        {"gestation_days": np.zeros((1, 1))},
        {"caesarean_share": np.zeros(0)},
        {"weight_g": np.array([[3300.0, 0.0]])},
        {"weight_g": np.array([[3300.0, np.inf]])},
        {"age_d": np.array([[-0.1, 3.0]])},
        {"age_d": np.array([[0.0, np.inf]])},
    ],
)
def test_what_does_not_fit_together_is_refused(fault):
    with pytest.raises(InputError, match="FORECAST-001"):
        Weighed(**{**GOOD, **fault})


@pytest.mark.parametrize("prior", [PRIOR, FLAT], ids=["shipped", "flat"])
def test_at_its_knots_the_mean_of_an_ordinary_infant_is_that_of_the_prior(prior):
    knots = prior.knots_days
    weight = REFERENCE.median_g[0, 0] + REFERENCE.sd_g[0, 0] * PRIOR.mean_z[0]
    found = mean_at(one(weight_g=(weight,)), *knots, prior=prior)
    assert found == pytest.approx(prior.mean_z, abs=1e-9)


def test_beyond_the_last_knot_the_mean_stays():
    last = PRIOR.knots_days[-1]
    found = mean_at(one(), last, last + 200)
    assert found[1] == pytest.approx(found[0], abs=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_a_caesarean_birth_adds_its_own_curve_by_its_share(share):
    added = mean_at(one(caesarean=share), *PRIOR.knots_days) - mean_at(one(), *PRIOR.knots_days)
    assert added == pytest.approx(share * PRIOR.caesarean_z, abs=1e-9)


@pytest.mark.parametrize(
    ("gestation_days", "weeks"),
    [
        (PRIOR.term_days, 0),
        (PRIOR.term_days + 14, 0),
        (PRIOR.term_days - 7, 1),
        (PRIOR.term_days - 10.5, 1.5),
        (PRIOR.term_days - 7 * PRIOR.early_weeks_max, PRIOR.early_weeks_max),
        (PRIOR.term_days - 7 * (PRIOR.early_weeks_max + 3), PRIOR.early_weeks_max),
        (NAN, 0),
    ],
)
def test_each_week_born_early_adds_up_to_a_most(gestation_days, weeks):
    early = one(gestation_days=[gestation_days])
    added = mean_at(early, *PRIOR.knots_days) - mean_at(one(), *PRIOR.knots_days)
    assert added == pytest.approx(weeks * PRIOR.early_week_z, abs=1e-9)


def of_birth_z(z):
    """A girl whose weight at birth lies at a growth z, once freed from the mean dip."""
    return one(weight_g=(REFERENCE.median_g[0, 0] + REFERENCE.sd_g[0, 0] * (z + PRIOR.mean_z[0]),))


@pytest.mark.parametrize(
    ("z", "below"),
    [
        (PRIOR.small_from_z + 2, 0.0),
        (PRIOR.small_from_z, 0.0),
        (PRIOR.small_from_z - 0.5, -0.5),
        (-6.0, -4.0 - PRIOR.small_from_z),  # no infant counts as smaller than -4
    ],
)
def test_only_below_a_size_at_birth_does_size_slow_the_catch_up(z, below):
    added = mean_at(of_birth_z(z), *PRIOR.slope_knots_days) - mean_at(
        of_birth_z(PRIOR.small_from_z + 1), *PRIOR.slope_knots_days
    )
    assert added == pytest.approx(below * PRIOR.small_slope_z, abs=1e-6)


@pytest.mark.parametrize(("age", "is_told"), [(0.0, True), (1.0, True), (1.01, False)])
def test_a_first_weight_tells_size_at_birth_only_in_the_first_days(age, is_told):
    prior = replace(PRIOR, birth_until_days=1.0)
    small = one((age,), (2000.0,))
    grid = lay_out(prior, REFERENCE, small, np.array([[14.0]]))
    knots = len(prior.knots_days)
    slopes = grid.design_g[0, 0, knots : knots + len(prior.slope_knots_days)]
    assert slopes.any() == is_told


def test_the_design_holds_the_shift_and_the_slopes_on_birth_sex_and_weeks():
    girl, boy = one(), one(male=[1.0])
    ages = np.array([[0.0, 14.0, 90.0]])
    q, k = len(PRIOR.knots_days), len(PRIOR.slope_knots_days)
    grids = [lay_out(PRIOR, REFERENCE, each, ages) for each in (girl, boy)]
    assert grids[0].design_g.shape == (1, 3, q + 3 * k)
    for grid, sign in zip(grids, (-0.5, 0.5), strict=True):
        parts = grid.design_g / grid.unit_g[..., None]
        assert parts[..., :q].sum(axis=-1) == pytest.approx(1.0)  # lines between knots
        assert parts[..., q + k : q + 2 * k].sum(axis=-1) == pytest.approx(sign)
        assert np.abs(parts[..., q + 2 * k :]).max() == 0  # born at term
    early = lay_out(PRIOR, REFERENCE, one(gestation_days=[PRIOR.term_days - 14]), ages)
    parts = early.design_g / early.unit_g[..., None]
    assert parts[..., q + 2 * k :].sum(axis=-1) == pytest.approx(2.0)


def test_before_any_infant_was_seen_the_shift_is_none_give_or_take_the_prior():
    shift = default_shift(PRIOR)
    assert not shift.mean.any()
    sds = np.concatenate(
        [PRIOR.shift_sd_z, PRIOR.birth_slope_sd, PRIOR.sex_slope_sd, PRIOR.early_slope_sd]
    )
    assert np.diag(shift.covariance) == pytest.approx(sds**2 + 1e-6)
    assert (shift.spread, shift.infants_count) == (1.0, 0)
    assert (shift.noise_g, shift.gross_share) == (PRIOR.noise_g, PRIOR.gross_share)
    assert np.linalg.eigvalsh(shift.covariance).min() > 0


def test_shift_and_slopes_are_believed_apart_from_each_other():
    covariance, q = default_shift(PRIOR).covariance, len(PRIOR.knots_days)
    assert not covariance[:q, q:].any()
    sd, tau = PRIOR.shift_sd_z, PRIOR.tau(PRIOR.knots_days)
    for other in (2, q - 1):
        apart = (tau[other] - tau[1]) / PRIOR.shift_length
        believed = sd[1] * sd[other] * np.exp(-(apart**2) / 2)
        assert covariance[1, other] == covariance[other, 1] == pytest.approx(believed)


def test_the_walks_covariance_is_its_spread_in_grams_times_its_correlation():
    infant, ages = one(), np.array([[0.0, 28.0]])
    grid = lay_out(PRIOR, REFERENCE, infant, ages)
    found = walk_covariance(PRIOR, grid, grid, 1.5)[0]
    unit = grid.unit_g[0]
    correlation = PRIOR.correlation(grid.tau[0, 0], grid.tau[0, 1])
    assert np.diag(found) == pytest.approx((1.5 * unit) ** 2)
    between = 1.5**2 * unit[0] * unit[1] * correlation
    assert (found[0, 1], found[1, 0]) == pytest.approx((between, between))


def test_tables_one_below_the_other_are_as_wide_as_the_widest():
    few, more = one((0.0, 3.0), (3300.0, 3100.0)), three_infants()
    noisy = replace(few, extra_noise_g=np.full_like(few.age_d, 7.0))
    found = stacked([noisy, more])
    assert found.age_d.shape == found.weight_g.shape == (4, 5)
    np.testing.assert_array_equal(found.age_d[0], [0.0, 3.0, NAN, NAN, NAN])
    np.testing.assert_array_equal(found.weight_g[1:], more.weight_g)
    for name in ("male_share", "gestation_days", "caesarean_share"):
        expected = np.concatenate([getattr(few, name), getattr(more, name)])
        np.testing.assert_array_equal(getattr(found, name), expected)
    assert found.extra_noise_g is not None
    np.testing.assert_array_equal(found.extra_noise_g[0], [7.0, 7.0, 0.0, 0.0, 0.0])
    np.testing.assert_array_equal(found.extra_noise_g[1:], 0.0)
