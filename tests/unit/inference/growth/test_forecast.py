from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from growth_cohorts import NAN, PRIOR, REFERENCE, three_infants, trusting, weighed
from suffice.errors import InputError
from suffice.inference.growth.forecast import LEVELS, forecast
from suffice.inference.growth.prior import default_shift


def ahead(infants, days=(7.0, 14.0), prior=PRIOR, **more):
    now = np.nanmax(np.where(np.isnan(infants.age_d), 0.0, infants.age_d), axis=1)
    return forecast(prior, REFERENCE, infants, now[:, None] + np.array(days), **more)


def test_an_infant_without_weights_gets_the_population():
    fan = forecast(PRIOR, REFERENCE, weighed([[NAN]], [[NAN]]), np.array([[0.0, 28.0]]))
    assert fan.mean_g[0, 0] == pytest.approx(REFERENCE.median_g[0, 0], abs=1)
    assert fan.sd_g[0, 0] == pytest.approx(REFERENCE.sd_g[0, 0], rel=0.01)
    assert fan.mean_g[0, 1] < REFERENCE.median_g[0, 28]


def test_a_weight_of_today_is_believed_to_within_its_noise():
    fan = ahead(weighed([[0, 10]], [[3300, 3400]]), days=(0.0,))
    assert fan.mean_g[0, 0] == pytest.approx(3400, abs=20)
    assert 20 < fan.sd_g[0, 0] <= fan.noise_g[0, 0]


def test_uncertainty_grows_with_the_horizon():
    fan = ahead(three_infants(), days=(1.0, 7.0, 14.0, 60.0))
    assert (np.diff(fan.sd_g, axis=1) > 0).all()


def test_a_gross_error_is_named_and_hardly_moves_the_forecast():
    right = weighed([[0, 3, 6, 9, 12]], [[3300, 3100, 3200, 3320, 3430]])
    slip = weighed([[0, 3, 6, 9, 12]], [[3300, 3100, 4200, 3320, 3430]])
    wrong = ahead(slip)
    assert wrong.gross_probability[0].argmax() == 2
    assert wrong.gross_probability[0, 2] > 0.99
    assert abs(wrong.mean_g - ahead(right).mean_g).max() < 15


def test_a_persistent_slope_is_carried_on_in_part():
    slow = ahead(weighed([[0, 14, 28]], [[3300, 3450, 3700]]), days=(0.0, 28.0))
    fast = ahead(weighed([[0, 14, 28]], [[3300, 3150, 3700]]), days=(0.0, 28.0))
    carried_g = np.diff(fast.mean_g)[0, 0] - np.diff(slow.mean_g)[0, 0]
    # They differ by 600 g in the gain of the last fortnight against that of the one before.
    assert 50 < carried_g < 300


def test_a_small_infant_is_expected_to_catch_up_only_slowly():
    small = weighed([[0]], [[2300]])
    kept = forecast(PRIOR, REFERENCE, small, np.array([[60.0]])).mean_g[0, 0]
    free = replace(PRIOR, small_slope_z=0 * PRIOR.small_slope_z)
    assert kept < forecast(free, REFERENCE, small, np.array([[60.0]])).mean_g[0, 0] - 50


def test_a_caesarean_infant_is_expected_lower_on_day_three():
    born = weighed([[0], [0]], [[3300], [3300]])
    by_mode = replace(born, caesarean_share=np.array([0.0, 1.0]))
    found = forecast(PRIOR, REFERENCE, by_mode, np.full((2, 1), 3.0)).mean_g[:, 0]
    assert 40 < found[0] - found[1] < 120


def test_quantiles_of_a_reading_have_the_share_below_them_that_they_say():
    fan = ahead(three_infants())
    away = fan.quantiles_g() - fan.mean_g[..., None]
    half = fan.read_sd_g[..., None]
    share = (1 - fan.gross_share) * ndtr(away / half)
    share = share + fan.gross_share * ndtr(away / np.hypot(half, fan.gross_sd_g))
    np.testing.assert_allclose(share, np.broadcast_to(LEVELS, share.shape), atol=1e-9)


def test_a_reading_is_less_certain_than_the_true_weight():
    fan = ahead(three_infants())
    read, true = fan.quantiles_g(), fan.quantiles_g(as_read=False)
    assert (read[..., -1] > true[..., -1]).all()
    assert (np.diff(read, axis=-1) > 0).all()


def test_the_change_between_two_ages_is_surer_than_their_weights_apart():
    fan = ahead(three_infants(), days=(0.0, 7.0))
    change, sd = fan.change_g(0, 1)
    np.testing.assert_allclose(change, fan.mean_g[:, 1] - fan.mean_g[:, 0])
    assert (sd < np.hypot(fan.sd_g[:, 0], fan.sd_g[:, 1])).all()


def test_a_clothed_weight_with_more_noise_counts_for_less():
    plain = weighed([[0, 10]], [[3300, 3700]])
    clothed = replace(plain, extra_noise_g=np.array([[0.0, 200.0]]))
    assert (
        ahead(clothed, prior=trusting()).mean_g[0, 0] < ahead(plain, prior=trusting()).mean_g[0, 0]
    )


def test_an_unknown_sex_and_gestation_give_an_answer_between():
    both = weighed([[0, 10]] * 3, [[3300, 3400]] * 3, male=[0.0, 0.5, 1.0])
    both = replace(both, gestation_days=np.full(3, NAN))
    found = ahead(both).mean_g[:, 1]
    assert np.isfinite(found).all()
    assert found[0] < found[1] < found[2]


def test_the_default_shift_is_what_no_site_means():
    explicit = ahead(three_infants(), shift=default_shift(PRIOR))
    np.testing.assert_array_equal(explicit.mean_g, ahead(three_infants()).mean_g)


@pytest.mark.parametrize("age", [-1.0, 731.0, np.nan])
def test_an_age_without_a_reference_is_refused(age):
    with pytest.raises(InputError, match="FORECAST-002"):
        forecast(PRIOR, REFERENCE, weighed([[0]], [[3300]]), np.array([[age]]))


@pytest.mark.parametrize(
    ("ages", "weights"),
    [([[0.0]], [[NAN]]), ([[-1.0]], [[3300.0]]), ([[1.0]], [[0.0]]), ([[1.0]], [[np.inf]])],
)
def test_weights_that_cannot_be_used_are_refused(ages, weights):
    with pytest.raises(InputError, match="FORECAST-001"):
        weighed(ages, weights)
