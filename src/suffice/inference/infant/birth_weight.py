"""Whether a birth weight fits the weights after it.

The model measures every course by birth weight, so a birth weight that is wrong bends all that is
said of gain and intake: 500 g too low, an infant who hardly gains is told to gain 40 g a day, and the
right weights after it are taken for errors. It is as often wrong as any weight is, by as much. Where
the weights find it likelier wrong than right it is left out, and that is said.

Where weights of one sitting alone follow it cannot be told which is wrong; then the birth weight stays.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from suffice.clinical.units import HOURS_PER_DAY
from suffice.inference.estimate import Caution
from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import Mode, find_best_mode
from suffice.inference.infant.model import BIRTH, Floats
from suffice.inference.infant.population import Population
from suffice.message import Amount, message

UNFIT: Final = "birth-weight-unfit"
"""Code of the caution that the birth weight was left out."""
_WORTH_A_LOOK: Final = 10.0
"""Squares of the latents at the mode, errors added, from which the odds are worth their cost."""
_ERROR_COUNTS: Final = 4.5
"""What a weight taken for an error adds to them."""
LIKELIER_WRONG: Final = 3.0
"""Log odds from which a birth weight is left out.

Of 3,000 drawn infants of nine schedules with a right one, none reaches 3 (one 2.8); of 600 whose birth weight
is 500 or 900 g off, three of four lie above it.
"""
_LOG_ROOT_2PI: Final = 0.5 * float(np.log(2 * np.pi))


def _log_normal(away: Floats, sd: Floats | float) -> Floats:
    """Log density of the normal."""
    return np.asarray(-0.5 * (away / sd) ** 2 - np.log(sd) - _LOG_ROOT_2PI)


def are_worth_a_look(z: Floats, kinds: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether infants are odd enough, or their weights wrong enough, that birth weight may be why, (...,).

    Args:
        z: Latents at the mode, (..., n_latents).
        kinds: Kind of error assigned to each weight there, (..., n_weights).
    """
    errors = np.count_nonzero(kinds, axis=-1)
    return np.asarray(np.vecdot(z, z) + _ERROR_COUNTS * errors > _WORTH_A_LOOK)


def log_odds(
    birth_g: Floats, z: Floats, variance: Floats, log_mass_ratio: Floats, p: Population
) -> Floats:
    """Log odds that birth weights are wrong, (n,).

    Args:
        birth_g: As measured, g, (n,).
        z: Latent of the birth weight at the mode that knows of none, (n,).
        variance: Its variance there, (n,).
        log_mass_ratio: Log of the mass of that mode over that of the mode with the birth weight, (n,).
        p: Parameters of the model.
    """
    foretold_g = 1000.0 * p.birth_weight_mean_kg * np.exp(p.birth_weight_log_sd * z)
    foretold_variance = variance * (foretold_g * p.birth_weight_log_sd) ** 2
    wrong = np.logaddexp(
        *(
            np.log(share) + _log_normal(birth_g - foretold_g, np.sqrt(foretold_variance + sd**2))
            for share, sd in (
                (p.outlier_fraction, np.hypot(p.noise_birth_weight_g, p.outlier_sd_g)),
                (p.gross_error_fraction, p.gross_error_range_g),
            )
        )
    )
    size = np.log(birth_g / (1000.0 * p.birth_weight_mean_kg))
    right = _log_normal(size, p.birth_weight_log_sd) - np.log(birth_g)
    right += np.log1p(-p.outlier_fraction - p.gross_error_fraction)
    return np.asarray(log_mass_ratio + wrong - right)


def log_odds_of_wrong(likelihood: Likelihood, mode: Mode) -> float:
    """Log odds that the birth weight is wrong, by the normal approximation at the modes with it and without.

    Args:
        likelihood: The evidence, with a birth weight.
        mode: Its mode.
    """
    free = without_birth_weight(likelihood)
    other, _ = find_best_mode(free, quickly=True)
    found = log_odds(
        np.array([likelihood.evidence.birth_weight_g or 0.0]),
        other.z[BIRTH, None],
        other.covariance[BIRTH, BIRTH, None],
        np.array([other.log_mass - mode.log_mass]),
        likelihood.population,
    )
    return float(found[0])


def without_birth_weight(likelihood: Likelihood) -> Likelihood:
    """The same evidence as if birth weight were not known."""
    evidence = msgspec.structs.replace(likelihood.evidence, birth_weight_g=None)
    return Likelihood(evidence, likelihood.population)


def is_unfit(likelihood: Likelihood, mode: Mode) -> bool:
    """Whether the birth weight does not fit what was weighed after it, given the mode of it all.

    One so low that no answer is given is none the better for being doubted: it stays, and so does the refusal.
    """
    birth_g, p = likelihood.evidence.birth_weight_g, likelihood.population
    if birth_g is None or birth_g < p.birth_weight_refused_low_g or not likelihood.weights:
        return False
    span_d = likelihood.weights[-1].age_d - likelihood.weights[0].age_d
    if span_d <= p.sitting_h / HOURS_PER_DAY:
        return False
    is_odd = bool(are_worth_a_look(mode.z, mode.kinds))
    return is_odd and log_odds_of_wrong(likelihood, mode) > LIKELIER_WRONG


def unfit_caution(birth_weight_g: float) -> Caution:
    """That the birth weight was left out."""
    return Caution(
        code=UNFIT,
        severity="caution",
        sentence=message(
            "Birth weight {weight} does not fit the weights after it. The engine leaves it out; losses still"
            " count from it: look it up, and whether all weights are this infant's.",
            weight=Amount(birth_weight_g, "g"),
        ),
        params={"birth_weight_g": birth_weight_g},
    )
