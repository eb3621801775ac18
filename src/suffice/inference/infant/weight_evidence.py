"""How likely the energy model finds an infant's weights, all together.

Set beside the same of the growth prior it says which of the two knows this infant better
(:mod:`suffice.inference.growth.blend`).
"""

from __future__ import annotations

import msgspec
import numpy as np

from suffice.inference.infant.likelihood import Likelihood
from suffice.inference.infant.mode import Mode, find_best_mode

_LOG_ROOT_2PI = 0.5 * float(np.log(2 * np.pi))


def weights_log_density(likelihood: Likelihood, mode: Mode) -> float:
    """Log density of all weights, given birth facts and milk given; 0 without weights.

    By the normal approximation at the mode, in units of 1/g to the number of weights. What else was seen
    (test weighings, diapers) is left out, by a search of its own: the growth prior knows nothing of it.

    Args:
        likelihood: The evidence.
        mode: Its mode.
    """
    evidence = likelihood.evidence
    if not likelihood.weights:
        return 0.0
    if evidence.test_weighings or evidence.diapers:
        likelihood = Likelihood(
            msgspec.structs.replace(evidence, test_weighings=(), diapers=()),
            likelihood.population,
        )
        mode, _ = find_best_mode(likelihood, quickly=True)
    return mode.log_mass - _LOG_ROOT_2PI * len(likelihood.weights)
