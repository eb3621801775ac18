from __future__ import annotations

import numpy as np
import pytest

from many_infants import POPULATION, QUESTION, drawn, gathered
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import find_best_mode
from suffice.inference.infant.model import BIRTH
from suffice.inference.many import mode as many
from suffice.inference.many.mode import (
    find_best_modes,
    find_modes,
    log_mass,
    start_of,
    variance_of,
)
from suffice.inference.many.preview import _passes, _problems, _shapes

INFANTS = drawn(80, seed=7)


def passes(infants=INFANTS):
    evidence = gathered(infants)
    for shape, index in _passes(_shapes(evidence, POPULATION, QUESTION)):
        yield _problems(evidence, POPULATION, shape, index), index


def test_the_search_ends_where_that_of_one_infant_ends():
    changed = 0
    for problems, index in passes():
        found = find_best_modes(problems)
        for k, place in enumerate(index):
            mode, _ = find_best_mode(Likelihood(INFANTS[place], POPULATION), quickly=True)
            count = len(mode.kinds)
            np.testing.assert_array_equal(found.kinds[k, :count], mode.kinds)
            np.testing.assert_allclose(found.z[k], mode.z, atol=1e-6)
            np.testing.assert_allclose(found.predictors[k, :count], mode.predictors, atol=1e-4)
            assert found.quiet[k] == pytest.approx(mode.quiet, rel=1e-8)
            changed += bool(mode.kinds.any())
    assert changed > 10


def test_the_free_part_of_a_weight_is_what_is_not_fitted_to_it():
    for problems, index in passes(INFANTS[:20]):
        found = find_modes(problems, start_of(problems), 1.0)
        for k in range(len(index)):
            precision = np.eye(found.z.shape[1]) + found.slopes[k].T @ found.slopes[k]
            fitted = found.slopes[k] @ np.linalg.inv(precision) @ found.slopes[k].T
            np.testing.assert_allclose(found.free[k], 1 - np.diag(fitted), atol=1e-9)


def test_the_mass_near_a_mode_and_the_variance_of_birth_weight_are_those_of_one_infant():
    """The one adds up its last step by the quadratic, the other looks at where it led."""
    apart = []
    for problems, index in passes():
        found = find_best_modes(problems)
        mass, variance = log_mass(problems, found), variance_of(found, BIRTH)
        for k, place in enumerate(index):
            mode, _ = find_best_mode(Likelihood(INFANTS[place], POPULATION), quickly=True)
            apart.append(abs(mass[k] - mode.log_mass))
            assert variance[k] == pytest.approx(mode.covariance[BIRTH, BIRTH], rel=1e-6)
    assert max(apart) < 0.3
    assert np.median(apart) < 0.02


def test_a_search_that_finds_no_better_place_stays(monkeypatch):
    """Every step made worse: after the halvings nobody has moved."""
    problems, _ = next(iter(passes()))
    start = start_of(problems)
    real = many.ManyErrors.scoring
    looks = []

    def worse(self, predictors, kinds, quiet):
        slope, curvature, fit = real(self, predictors, kinds, quiet)
        looks.append(len(fit))
        return slope, curvature, fit - 1e9 * (len(looks) > 1)

    monkeypatch.setattr(many.ManyErrors, "scoring", worse)
    found = find_modes(problems, start, 1e-9)
    np.testing.assert_array_equal(found.z, start.z)
    assert len(looks) == 1 + many.HALVINGS


def test_the_search_ends_after_so_many_steps_at_most(monkeypatch):
    problems, _ = next(iter(passes()))
    whole = find_modes(problems, start_of(problems), 1e-6)
    monkeypatch.setattr(many, "ITERATIONS_MAX", 1)
    cut = find_modes(problems, start_of(problems), 1e-6)
    assert np.abs(cut.z - whole.z).max() > 1e-6
