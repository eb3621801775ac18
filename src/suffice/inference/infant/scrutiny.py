"""Scrutiny of the evidence: what moved the answer, and which weight looks wrong.

Both reweight the draws instead of computing again: without reading i a draw weighs in inverse
proportion to the likelihood of reading i, truncated so that no draw rules alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from suffice.inference.estimate import Influence, Suspect
from suffice.inference.evidence import TestWeighing, WeightReading
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.model import Floats
from suffice.inference.infant.outlook import Outlook
from suffice.inference.infant.reading_error import wrong_transfer_density
from suffice.message import Amount, message

_ROUGH_BELOW = 100.0  # effective draws
SHORT_SD_LEAST = 0.25  # a probability that hardly varies would make every shift of it large
_SLIP_Z = 3.0  # a slip must explain what noise does not
_FITS_Z = 2.0  # and fit where noise would put it


@dataclass(frozen=True, slots=True)
class Without:
    """Draws reweighted as if one reading were missing, for all readings at once.

    Attributes:
        share: Weights, (n_draws, n_readings); every column sums to 1.
        effective: Effective draws, (n_readings,).
    """

    share: Floats
    effective: Floats

    @classmethod
    def from_log_likelihood(cls, log_likelihood: Floats) -> Without:
        """From the log-likelihood of each reading at each draw, (n_draws, n_readings)."""
        weight = np.exp(log_likelihood.min(axis=0) - log_likelihood)
        weight = np.minimum(weight, weight.mean(axis=0) * np.sqrt(len(weight)))
        weight /= weight.sum(axis=0)
        return cls(weight, 1.0 / np.einsum("ij,ij->j", weight, weight))


def influences(
    likelihood: Likelihood, log_likelihood: Floats, outlook: Outlook
) -> tuple[Influence, ...]:
    """What each weight, each test weighing and each kind of diaper did; the strongest first."""
    names: list[tuple[str, Literal["weight", "test weighing", "diapers"]]] = []
    columns = []
    for j, (kind, reading_id) in enumerate(likelihood.readings):
        if kind in {"weight", "test weighing"}:
            names.append((reading_id, "weight" if kind == "weight" else "test weighing"))
            columns.append(log_likelihood[:, j])
    for kind in ("wet", "stool"):
        own = [j for j, reading in enumerate(likelihood.readings) if reading[0] == kind]
        if own:
            names.append((kind, "diapers"))
            columns.append(log_likelihood[:, own].sum(axis=1))
    if not columns:
        return ()
    without = Without.from_log_likelihood(np.stack(columns, axis=1))
    answers = np.stack(
        [outlook.gain_g_d, outlook.breast_ml_d, (outlook.least_share < 1.0).astype(float)]
    )
    spread = np.maximum(answers.std(axis=1), (1e-9, 1e-9, SHORT_SD_LEAST))
    shifts = answers.mean(axis=1)[:, None] - answers @ without.share
    found = [
        Influence(
            reading_id=reading_id,
            kind=kind,
            shift_sd=float(np.abs(shifts[:, j] / spread).max()),
            gain_shift_g_per_day=float(shifts[0, j]),
            intake_shift_ml_per_day=float(shifts[1, j]),
            short_probability_shift=float(shifts[2, j]),
            rough=bool(without.effective[j] < _ROUGH_BELOW),
        )
        for j, (reading_id, kind) in enumerate(names)
    ]
    return tuple(sorted(found, key=strength))


def strength(one: Influence) -> tuple[float, str]:
    """Sorts influences: the strongest first, equal ones by name."""
    return -one.shift_sd, one.reading_id


def unfit_tests(likelihood: Likelihood, log_likelihood: Floats) -> tuple[TestWeighing, ...]:
    """Test weighings that the rest contradicts so much that they are taken for gross errors.

    Their share of the likelihood is then the floor of a gross error, whatever they show: they move
    the answer no more, and that is to be said.
    """
    p = likelihood.population
    tests = {one.id: one for one in likelihood.evidence.test_weighings}
    floor = wrong_transfer_density(p)
    return tuple(
        tests[reading_id]
        for j, (kind, reading_id) in enumerate(likelihood.readings)
        if kind == "test weighing"
        and np.mean(floor * np.exp(-log_likelihood[:, j])) >= p.suspect_noted_probability
    )


def suspects(
    likelihood: Likelihood, predictors: Floats, log_likelihood: Floats, wrong: Floats
) -> tuple[Suspect, ...]:
    """Weights that are wrong with some probability, the likeliest first.

    `wrong`, (n_weights,), is that probability.
    """
    weights, p = likelihood.weights, likelihood.population
    if not weights:
        return ()
    n = len(weights)
    errors = likelihood.errors
    if wrong.max() < p.suspect_noted_probability:
        return ()
    share = Without.from_log_likelihood(log_likelihood[:, :n]).share
    expected = np.einsum("ij,ij->j", share, predictors[:, :n]) + errors.shift_g[0]
    spread = np.einsum("ij,ij->j", share, (predictors[:, :n] + errors.shift_g[0] - expected) ** 2)
    sd = np.sqrt(spread + errors.sd_g[0] ** 2)
    found = []
    for j in np.argsort(-wrong, kind="stable"):
        if wrong[j] < p.suspect_noted_probability:
            break
        found.append(
            _suspect(likelihood, int(j), float(wrong[j]), float(expected[j]), float(sd[j]))
        )
    return tuple(found)


def _suspect(
    likelihood: Likelihood, j: int, probability: float, expected_g: float, sd_g: float
) -> Suspect:
    """The suspect weight j with the likeliest reason and the question to ask."""
    reading, p = likelihood.weights[j], likelihood.population
    off = reading.weight_g - expected_g
    scales = {r.scale for r in likelihood.weights if r.scale is not None}
    shown = Amount(reading.weight_g, "g")
    reason: Literal["clothed", "other scale", "slip", "unexplained"]
    perhaps = next(
        (float(g) for g in _slips(reading) if abs(g - expected_g) < _FITS_Z * sd_g), None
    )
    if perhaps is not None and abs(off) > _SLIP_Z * sd_g:
        reason = "slip"
        ask = message(
            "Was {weight} typed for {perhaps}?", weight=shown, perhaps=Amount(perhaps, "g")
        )
    elif reading.scale is not None and len(scales) > 1 and abs(off) < 3 * p.scale_offset_sd_g:
        reason = "other scale"
        ask = message(
            "Do the scales agree? Weigh on both, one after the other ({weight}).", weight=shown
        )
    elif (
        reading.clothing not in {"naked", "clothed"}
        and off > 0
        and (abs(off - p.clothes_g) < _FITS_Z * float(np.hypot(p.clothes_sd_g, sd_g)))
    ):
        reason = "clothed"
        ask = message("Was the infant clothed, or the diaper full, at {weight}?", weight=shown)
    else:
        reason = "unexplained"
        ask = message(
            "Is {weight} right, on the same scale and in the same state as the others?",
            weight=shown,
        )
    return Suspect(
        reading_id=reading.id,
        probability=probability,
        reason=reason,
        residual_g=off,
        expected_g=expected_g,
        perhaps_g=perhaps if reason == "slip" else None,
        ask=ask,
    )


def _slips(reading: WeightReading) -> Iterator[int]:
    """Weights from which one slip of typing makes this one: neighbours swapped, a zero too many."""
    digits = str(round(reading.weight_g))
    for k in range(len(digits) - 1):
        if digits[k] != digits[k + 1]:
            yield int(digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :])
    yield int(digits + "0")
    if len(digits) > 1:
        yield int(digits[:-1])
