from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from growth_cohorts import NAN, PRIOR, REFERENCE, three_infants, trusting, weighed
from suffice.inference.growth.forecast import forecast
from suffice.inference.growth.prior import Weighed

AHEAD = np.array([[35.0, 49.0]])

weights = st.lists(
    st.tuples(st.integers(1, 28), st.integers(2200, 5200)),
    min_size=1,
    max_size=6,
    unique_by=lambda p: p[0],
)


def infant(pairs):
    return weighed([[a for a, _ in pairs]], [[w for _, w in pairs]])


@given(pairs=weights, seed=st.integers(0, 100))
@settings(max_examples=40, deadline=None)
def test_the_order_of_weights_does_not_matter(pairs, seed):
    shuffled = [pairs[i] for i in np.random.default_rng(seed).permutation(len(pairs))]
    one = forecast(PRIOR, REFERENCE, infant(pairs), AHEAD)
    other = forecast(PRIOR, REFERENCE, infant(shuffled), AHEAD)
    np.testing.assert_allclose(one.quantiles_g(), other.quantiles_g(), rtol=1e-9)


@given(pairs=weights, padding=st.integers(1, 4))
@settings(max_examples=40, deadline=None)
def test_room_without_weights_changes_nothing(pairs, padding):
    plain = infant(pairs)
    wide = replace(
        plain,
        age_d=np.hstack([plain.age_d, np.full((1, padding), NAN)]),
        weight_g=np.hstack([plain.weight_g, np.full((1, padding), NAN)]),
    )
    one, other = (forecast(PRIOR, REFERENCE, w, AHEAD).quantiles_g() for w in (plain, wide))
    np.testing.assert_allclose(one, other, rtol=1e-9)


@given(pairs=weights)
@settings(max_examples=40, deadline=None)
def test_every_answer_is_finite_and_every_interval_has_width(pairs):
    fan = forecast(PRIOR, REFERENCE, infant(pairs), AHEAD)
    found = fan.quantiles_g()
    assert np.isfinite(found).all()
    assert (np.diff(found, axis=-1) > 0).all()
    assert ((fan.gross_probability >= 0) & (fan.gross_probability <= 1)).all()


@given(pairs=weights, extra=st.tuples(st.integers(29, 34), st.integers(2200, 5200)))
@settings(max_examples=40, deadline=None)
def test_one_more_weight_never_widens_the_forecast_when_no_error_is_suspected(pairs, extra):
    less = forecast(trusting(), REFERENCE, infant(pairs), AHEAD)
    more = forecast(trusting(), REFERENCE, infant([*pairs, extra]), AHEAD)
    assert (more.sd_g <= less.sd_g + 1e-6).all()


@given(order=st.permutations([0, 1, 2]))
def test_infants_do_not_touch_each_other(order):
    all_of_them = three_infants()
    together = forecast(PRIOR, REFERENCE, all_of_them, np.repeat(AHEAD, 3, axis=0))
    chosen = all_of_them.rows(np.array(order))
    shuffled = forecast(PRIOR, REFERENCE, chosen, np.repeat(AHEAD, 3, axis=0))
    np.testing.assert_allclose(shuffled.mean_g, together.mean_g[list(order)], rtol=1e-10)


def test_the_same_input_gives_the_same_bits():
    def once() -> bytes:
        infants: Weighed = three_infants()
        fan = forecast(PRIOR, REFERENCE, infants, np.repeat(AHEAD, 3, axis=0))
        return fan.quantiles_g().tobytes()

    assert once() == once()
