"""A clinic's site is kept as plain numbers and comes back as the shift it was."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import numpy as np

from growth_cohorts import PRIOR, REFERENCE, made_up_site
from suffice.inference.growth.site import pool_site, settle
from suffice.knowledge.clinic_site import ClinicSite, clinic_site, prior_name, site_shift

NOW = datetime(2026, 3, 4, tzinfo=UTC)


def test_what_is_kept_comes_back_as_the_same_shift():
    pool = pool_site(PRIOR, REFERENCE, made_up_site(20, shift_g_per_day=5.0))
    kept = clinic_site(pool, PRIOR, weights_count=100, learned_at=NOW)
    again = msgspec.json.decode(msgspec.json.encode(kept), type=ClinicSite)
    assert again == kept
    shift, own = site_shift(again), settle(pool)
    np.testing.assert_array_equal(shift.mean, own.mean)
    np.testing.assert_allclose(shift.covariance, own.covariance, atol=1e-15)
    for name in ("spread", "noise_g", "gross_share", "infants_count"):
        assert getattr(shift, name) == getattr(own, name)


def test_another_number_of_the_prior_gives_it_another_name():
    assert prior_name(PRIOR) == prior_name(replace(PRIOR))
    assert prior_name(PRIOR) != prior_name(replace(PRIOR, noise_g=36.0))
    longer = replace(PRIOR, mean_z=PRIOR.mean_z + 0.01)
    assert prior_name(PRIOR) != prior_name(longer)
