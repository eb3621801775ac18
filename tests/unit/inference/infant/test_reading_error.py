"""How readings err: each kind of error where it belongs, and densities that are densities."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from scipy.stats import nbinom

from engine_setting import POPULATION, THRIVING, weights
from suffice.inference.evidence import DiaperCount, Scale, TestWeighing, WeightReading
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.reading_error import (
    DiaperCounts,
    SettledTransfers,
    TransferTables,
    WeightErrors,
    ordinary_variance,
    sittings,
    wrong_transfer_density,
)

change = msgspec.structs.replace
ORDINARY, OUTLIER, CLOTHES, GROSS = range(4)


def errors_of(*readings, scales=()):
    return WeightErrors.from_weights(readings, {scale.name: scale for scale in scales}, POPULATION)


def reading(clothing="naked", scale="clinic", grams=3300.0):
    return WeightReading(id="w", age_d=5.0, weight_g=grams, clothing=clothing, scale=scale)


def test_the_levels_of_noise_add_up_to_their_log_normal_spread():
    errors = Likelihood(THRIVING, POPULATION).errors
    share = np.exp(errors.noise_log_shares)
    assert share.sum() == pytest.approx(1.0)
    assert share @ errors.noise_logs == pytest.approx(0.0, abs=1e-12)
    spread = float(np.sqrt(share @ errors.noise_logs**2))
    assert spread == pytest.approx(POPULATION.noise_log_sd, rel=0.03)  # tails beyond 2.4 SD are cut


def test_many_weights_do_not_underflow():
    times = np.linspace(1.0, 40.0, 200)
    many = weights(*((float(t), 3300.0 + 25.0 * float(t)) for t in times))
    likelihood = Likelihood(change(THRIVING, now_d=40.0, weights=many), POPULATION)
    far = np.full((1, len(likelihood.readings)), 40_000.0)  # every weight 36 kg off
    near = likelihood.observed_g[None]
    logs = likelihood.log_likelihood(np.concatenate([near, far]))
    assert np.isfinite(logs).all()
    assert logs[1] < logs[0] - 1000.0
    parts = likelihood.contributions(np.concatenate([near, far]))
    assert all(np.isfinite(part).all() for part in parts)


def test_scatter_is_by_chance_as_often_as_it_is_called_so():
    errors = Likelihood(THRIVING, POPULATION).errors
    rng = np.random.default_rng(3)
    noise = np.exp(POPULATION.noise_log_sd * rng.standard_normal(4000))
    squares = noise**2 * rng.chisquare(5, 4000)
    rare = np.mean([errors.scatter_chance(float(s), 5.0) < 0.05 for s in squares])
    assert 0.035 < rare < 0.065


def test_a_weighed_feed_is_likeliest_near_its_expectation():
    test = TestWeighing(id="t", age_d=5.0, transfer_g=60.0)
    table = TransferTables.from_tests((test,), 10.0, POPULATION)
    expected_g = np.array([15.0, 60.0, 240.0])
    low, near, high = table.log_likelihood(np.log(expected_g)[:, None])[:, 0]
    assert near > low
    assert near > high


def test_a_weighed_feed_integrates_over_all_results_to_one():
    shown = np.arange(-60.0, 600.0, 2.0)
    tests = tuple(TestWeighing(id=str(g), age_d=5.0, transfer_g=float(g)) for g in shown)
    table = TransferTables.from_tests(tests, 10.0, POPULATION)
    density = np.exp(table.log_likelihood(np.full((1, len(shown)), np.log(70.0))))
    assert 2.0 * density.sum() == pytest.approx(1, abs=0.01)


def of_tests(*grams, **more):
    tests = tuple(TestWeighing(id=str(g), age_d=5.0, transfer_g=g, **more) for g in grams)
    return (
        TransferTables.from_tests(tests, 10.0, POPULATION),
        SettledTransfers.all_right(tests, 10.0, POPULATION),
    )


@pytest.mark.parametrize("precision_sd_g", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("shown_g", [90.0, 150.0, 299.0, 300.0])
def test_a_sharp_scale_finds_the_feed_wherever_its_result_falls(shown_g, precision_sd_g):
    """A feed varies by 40 g and more: beside that, whether a scale errs by one gram or two is little."""
    test = TestWeighing(id="t", age_d=6.0, transfer_g=shown_g, precision_sd_g=precision_sd_g)
    table = TransferTables.from_tests((test,), 8.0, POPULATION)
    spread = float(table.spread[0])
    around = np.log(shown_g) + spread * np.linspace(-1.5, 1.5, 25)
    there = (np.log(shown_g) - around) / spread + spread / 2
    log_normal = np.exp(-0.5 * there**2) / (np.sqrt(2 * np.pi) * spread * shown_g)
    told = np.exp(table.log_likelihood(around[:, None])[:, 0])
    assert told == pytest.approx(log_normal, rel=0.06)


def test_a_weighed_feed_settled_as_right_says_what_it_would_but_for_errors():
    either, right = of_tests(60.0)
    near, far = np.log([[60.0]]), np.log([[2000.0]])
    assert right.log_likelihood(near) == pytest.approx(either.log_likelihood(near), abs=1e-4)
    np.testing.assert_allclose(right.scoring(near[0]), either.scoring(near[0]), atol=1e-3)
    # Where it may be wrong what lies far off is all the same; where it is right it is not.
    assert either.scoring(far[0])[0] == pytest.approx(0.0, abs=1e-6)
    assert right.scoring(far[0])[0] < -10
    assert right.log_likelihood(far) < either.log_likelihood(far) - 10
    extreme = np.log([[1.0], [3000.0]])
    assert np.isfinite(right.log_likelihood(extreme)).all()


def test_right_and_wrong_ones_make_up_the_density_of_either():
    either, right = of_tests(20.0, 60.0, 400.0)
    at = np.log(np.array([[15.0, 90.0, 60.0]]))
    wrong = right.turned(0).turned(1).turned(2)
    both = np.exp(right.log_likelihood(at)) + np.exp(wrong.log_likelihood(at))
    np.testing.assert_allclose(np.log(both), either.log_likelihood(at), rtol=1e-3)


def test_a_weighed_feed_settled_as_wrong_tells_nothing_and_can_be_turned_back():
    _, right = of_tests(60.0, 70.0)
    mixed = right.turned(1)
    assert mixed.wrong.tolist() == [False, True]
    low, high = (mixed.log_likelihood(np.log([[g, g]]))[0] for g in (20.0, 200.0))
    assert low[1] == high[1] == pytest.approx(np.log(wrong_transfer_density(POPULATION)))
    assert low[0] != high[0]
    slope, curvature = mixed.scoring(np.log([30.0, 30.0]))
    assert (slope[1], curvature[1]) == (0.0, 0.0)
    assert slope[0] > 0 < curvature[0]
    assert mixed.turned(1).wrong.tolist() == [False, False]
    assert not right.wrong.any()


def test_an_ordinary_weight_wavers_by_body_scale_and_display():
    p = POPULATION
    usual = p.noise_physiological_g**2 + p.noise_scale_g**2 + p.noise_resolution_g**2 / 12
    assert ordinary_variance(p, None) == pytest.approx(usual)
    assert ordinary_variance(p, Scale(name="s")) == pytest.approx(usual)
    known = Scale(name="s", precision_sd_g=20.0, resolution_g=60.0)
    assert ordinary_variance(p, known) == pytest.approx(p.noise_physiological_g**2 + 400 + 300)
    # A scale that is known to be exact is believed: 0 is not 'not known'.
    exact = Scale(name="s", precision_sd_g=0.0, resolution_g=0.0)
    assert ordinary_variance(p, exact) == pytest.approx(p.noise_physiological_g**2)


@pytest.mark.parametrize(
    ("clothing", "worn"),
    [("naked", 0.0), ("dry diaper", "dry_diaper_g"), ("clothed", "clothes_g"), (None, 0.0)],
)
def test_what_is_worn_shifts_the_weight_and_only_unmentioned_clothes_are_suspected(clothing, worn):
    p = POPULATION
    shift = getattr(p, worn) if isinstance(worn, str) else worn
    found = errors_of(reading(clothing))
    assert found.shift_g[[ORDINARY, OUTLIER, GROSS], 0] == pytest.approx([shift] * 3)
    share = np.exp(found.log_share[:, 0])
    assert share.sum() == pytest.approx(1.0)
    assert share[CLOTHES] == pytest.approx(
        p.clothes_fraction if clothing is None else 0.0, abs=1e-9
    )
    assert share[[OUTLIER, GROSS]] == pytest.approx([p.outlier_fraction, p.gross_error_fraction])


def test_unmentioned_clothes_weigh_what_clothes_weigh():
    found = errors_of(reading(None))
    assert found.shift_g[CLOTHES, 0] == POPULATION.clothes_g


def test_clothes_that_are_known_make_a_weight_less_certain():
    naked, clothed = (errors_of(reading(worn)).sd_g[:, 0] for worn in ("naked", "clothed"))
    assert clothed**2 - naked**2 == pytest.approx(np.full(4, POPULATION.clothes_sd_g**2))


def test_each_kind_of_error_is_as_wide_as_it_is_called():
    p, usual = POPULATION, ordinary_variance(POPULATION, None)
    added = np.array([0.0, p.outlier_sd_g, p.clothes_sd_g, p.gross_error_range_g])
    assert errors_of(reading()).sd_g[:, 0] ** 2 == pytest.approx(usual + added**2)


def test_the_bias_of_a_scale_belongs_to_its_own_weights():
    found = errors_of(reading(), reading(scale="home"), scales=[Scale(name="home", bias_g=40.0)])
    assert found.shift_g[ORDINARY].tolist() == [0.0, 40.0]
    assert found.shift_g[CLOTHES].tolist() == [POPULATION.clothes_g, 40.0 + POPULATION.clothes_g]


def test_a_weight_without_a_scale_has_the_populations_noise_and_no_bias():
    found = errors_of(reading(scale=None), scales=[Scale(name="home", bias_g=40.0)])
    assert (found.shift_g[ORDINARY, 0], found.sd_g[ORDINARY, 0] ** 2) == pytest.approx(
        (0.0, ordinary_variance(POPULATION, None))
    )


def test_the_likelihood_of_one_weight_is_its_mixture_over_kinds_and_noise():
    found = errors_of(reading(None))
    off_g = np.array([[-80.0], [0.0], [230.0], [900.0]])
    share, shift, sd = np.exp(found.log_share[:, 0]), found.shift_g[:, 0], found.sd_g[:, 0]
    levels = np.exp(found.noise_log_shares)
    expected = []
    for residual in off_g[:, 0]:
        total = 0.0
        for level, log_noise in zip(levels, found.noise_logs, strict=True):
            widths = np.where(np.arange(4) == ORDINARY, sd * np.exp(log_noise), sd)
            normal = np.exp(-0.5 * ((residual - shift) / widths) ** 2) / (
                widths * math.sqrt(2 * math.pi)
            )
            total += level * float(share @ normal)
        expected.append(math.log(total))
    whole, parts, wrong = found.contributions(off_g)
    assert whole == pytest.approx(expected, rel=1e-6)
    assert parts[:, 0] == pytest.approx(expected, rel=1e-6)  # alone, a weight adds all there is
    assert wrong[1, 0] < 0.15 < 0.5 < wrong[2, 0] < wrong[3, 0]


def test_what_each_of_two_weights_adds_is_the_likelihood_of_both_over_that_of_the_other():
    both = errors_of(reading(), change(reading("clothed"), age_d=6.0))
    one = errors_of(reading("clothed"))
    off_g = np.array([[60.0, 190.0]])
    whole, parts, _ = both.contributions(off_g)
    alone, _, _ = one.contributions(off_g[:, 1:])
    assert parts[0, 0] == pytest.approx(whole[0] - alone[0], rel=1e-9)


def test_only_an_ordinary_weight_shares_the_familys_noise():
    found = errors_of(reading(), reading())
    sd = found.assigned_sd(np.array([ORDINARY, OUTLIER]), quiet=4.0)
    assert sd == pytest.approx([found.sd_g[ORDINARY, 0] / 2, found.sd_g[OUTLIER, 1]])


@pytest.mark.parametrize("freedom", [2.0, 8.0])
def test_calm_weights_are_quiet_and_wild_ones_loud(freedom):
    found = errors_of(reading())
    calm, usual, wild = (factor * freedom for factor in (0.1, 1.0, 6.0))
    assert found.quietness(calm, freedom) > found.quietness(usual, freedom)
    assert found.quietness(usual, freedom) > found.quietness(wild, freedom)
    assert found.loudness(calm, freedom) < 1.0 < found.loudness(wild, freedom)
    chances = [found.scatter_chance(squares, freedom) for squares in (0.0, calm, usual, wild)]
    assert chances[0] == pytest.approx(1.0)
    assert chances == sorted(chances, reverse=True)
    assert chances[3] < 0.1


def at(hours: float) -> WeightReading:
    return change(reading(), id=f"h{hours}", age_d=5.0 + hours / 24)


def test_a_sitting_goes_on_while_the_next_weight_follows_within_the_hour():
    readings = (at(0), at(0.5), at(1.4), at(3), at(5), at(5.2))
    found = sittings(readings, POPULATION)
    assert found == (readings[:3], readings[4:])
    assert sittings((at(0), at(2)), POPULATION) == ()


def test_weights_of_one_sitting_keep_a_fifth_of_the_noise_of_the_body_each():
    alone, first, second = (errors_of(at(0)), *[errors_of(at(0), at(0.2))] * 2)
    body = POPULATION.noise_physiological_g**2
    kept = alone.sd_g[ORDINARY, 0] ** 2 - POPULATION.sitting_shared_fraction * body
    assert first.sd_g[ORDINARY] ** 2 == pytest.approx([kept, kept])
    assert second.sd_g[OUTLIER, 0] ** 2 == pytest.approx(kept + POPULATION.outlier_sd_g**2)


def test_a_dry_diaper_weighs_something_and_not_always_the_same():
    naked, diaper = errors_of(reading()), errors_of(reading("dry diaper"))
    assert diaper.shift_g[ORDINARY, 0] - naked.shift_g[ORDINARY, 0] == POPULATION.dry_diaper_g
    spread = diaper.sd_g[ORDINARY, 0] ** 2 - naked.sd_g[ORDINARY, 0] ** 2
    assert spread == pytest.approx(POPULATION.dry_diaper_sd_g**2)


def test_without_test_weighings_there_is_an_empty_table():
    table = TransferTables.from_tests((), None, POPULATION)
    assert table.log_likelihood(np.zeros((3, 0))).shape == (3, 0)
    assert table.log_share.shape == (0,)


def transfers(*tests, feeds_per_day=None):
    return TransferTables.from_tests(tests, feeds_per_day, POPULATION)


def a_test(grams=60.0, **more):
    return TestWeighing(id="t", age_d=5.0, transfer_g=grams, **more)


@pytest.mark.parametrize(
    ("test", "feeds_per_day", "part"),
    [
        (a_test(), 10.0, 0.1),
        (a_test(feeds_count=4), 10.0, 0.4),
        (a_test(feeds_count=14), 10.0, 1.0),  # never more than the whole day
        (a_test(feeds_count=3, whole_day=True), 10.0, 1.0),
        (a_test(), None, 1 / POPULATION.feeds_per_day),
    ],
)
def test_a_feed_shows_its_share_of_the_day_less_what_evaporates(test, feeds_per_day, part):
    (share,) = np.exp(transfers(test, feeds_per_day=feeds_per_day).log_share)
    assert share == pytest.approx((1 - POPULATION.evaporation_fraction) * part)


def test_feeds_vary_the_more_the_fewer_were_weighed_and_most_where_nobody_counted_them():
    p = POPULATION

    def spread(test, feeds_per_day=10.0):
        return float(transfers(test, feeds_per_day=feeds_per_day).spread[0])

    assert spread(a_test(whole_day=True)) == pytest.approx(p.day_log_sd)
    assert spread(a_test(whole_day=True), None) == pytest.approx(p.day_log_sd)
    one = p.day_log_sd**2 + 0.9 * p.feed_log_sd**2
    assert spread(a_test()) ** 2 == pytest.approx(one)
    assert spread(a_test(feeds_count=4)) ** 2 == pytest.approx(
        p.day_log_sd**2 + 0.6 * p.feed_log_sd**2 / 4
    )
    uncounted = p.day_log_sd**2 + (1 - 1 / p.feeds_per_day) * p.feed_log_sd**2
    assert spread(a_test(), None) ** 2 == pytest.approx(uncounted + p.feeds_per_day_log_sd**2)


@pytest.mark.parametrize(
    ("test", "noise_g"),
    [
        (a_test(), POPULATION.test_weighing_sd_g),
        (a_test(precision_sd_g=3.0), 3.0),
        (a_test(precision_sd_g=3.0, feeds_count=4), 6.0),
        (a_test(20.0, precision_sd_g=0.0), 1.0),  # no scale tells more
        (a_test(300.0, precision_sd_g=3.0), 7.7),  # nor the sum over what a feed may hold
    ],
)
def test_the_noise_of_each_weighing_adds_in_squares(test, noise_g):
    assert transfers(test).noise_g[0] == pytest.approx(noise_g, abs=0.1)


def test_a_weighed_feed_that_no_milk_explains_is_still_possible():
    table = transfers(a_test(-900.0), feeds_per_day=10.0)
    (log,) = table.log_likelihood(np.log([[60.0]]))[0]
    floor = POPULATION.gross_error_fraction / POPULATION.gross_error_range_g
    assert log == pytest.approx(math.log(floor), abs=1e-6)


def test_beyond_the_tables_ends_its_last_values_hold():
    table = transfers(a_test(), feeds_per_day=10.0)
    looked = table.log_likelihood(np.array([[-5.0], [0.0], [8.0], [20.0]]))[:, 0]
    assert looked[0] == looked[1] == table.log_density[0, 0]
    assert looked[2] == looked[3] == table.log_density[0, -1]


def test_the_slope_of_a_weighed_feed_points_to_its_expectation():
    table = transfers(a_test(60.0), feeds_per_day=10.0)
    low, high = (table.scoring(np.log([grams]))[0][0] for grams in (20.0, 180.0))
    assert low > 0 > high
    assert table.scoring(np.log([60.0]))[1] == pytest.approx(
        1 / (table.spread**2 + (table.noise_g / 60.0) ** 2)
    )


WET = DiaperCount(id="a", kind="wet", age_d=6.0, count=6)
STOOL = DiaperCount(id="b", kind="stool", age_d=6.0, count=4, span_d=2.0)


def test_counts_keep_their_order_and_each_kind_its_own_line():
    p, counts = POPULATION, DiaperCounts.from_counts((WET, STOOL, WET), POPULATION)
    assert counts.kinds == ("stool", "wet")
    assert counts.kind.tolist() == [1, 0, 1]
    assert counts.lines[:, 0].tolist() == [p.wet_intercept, p.wet_slope]
    assert counts.lines[:, 1].tolist() == [p.stool_intercept, p.stool_slope]


def test_a_count_rises_with_intake_span_and_habit():
    p, counts = POPULATION, DiaperCounts.from_counts((WET, STOOL), POPULATION)
    habits = np.array([[0.2, -0.1]])  # stool, wet
    mean = np.exp(counts.log_mean(np.full((1, 2), 150.0), habits))[0]
    assert mean[0] == pytest.approx((p.wet_intercept + p.wet_slope * 150) * math.exp(-0.1))
    assert mean[1] == pytest.approx(2 * (p.stool_intercept + p.stool_slope * 150) * math.exp(0.2))


def test_no_count_at_all_is_no_evidence():
    counts = DiaperCounts.from_counts((), POPULATION)
    assert counts.log_mean(np.zeros((2, 0)), np.zeros((2, 0))).shape == (2, 0)


def test_counts_are_negative_binomial():
    counts = DiaperCounts.from_counts((WET, change(WET, count=0)), POPULATION)
    means = np.array([3.0, 6.0, 9.0])
    logs = counts.log_likelihood(np.log(means)[:, None].repeat(2, axis=1))
    size = 1 / POPULATION.diaper_dispersion
    for column, seen in enumerate((6, 0)):
        exact = nbinom.logpmf(seen, size, size / (size + means))
        assert np.diff(logs[:, column]) == pytest.approx(np.diff(exact))


def test_a_count_pulls_towards_itself():
    counts = DiaperCounts.from_counts((WET,), POPULATION)
    slopes = [counts.scoring(np.log([mean]))[0][0] for mean in (3.0, 6.0, 12.0)]
    assert slopes[0] > 0 > slopes[2]
    assert slopes[1] == pytest.approx(0)
    step = 1e-5
    near = np.log([[3.0 - step], [3.0 + step]])
    low, high = counts.log_likelihood(near)[:, 0]
    assert slopes[0] == pytest.approx((high - low) / (near[1, 0] - near[0, 0]), rel=1e-4)
