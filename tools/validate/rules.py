"""What practice does today, and a regression trained for the schedule: the ones to beat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr
from tools.validate.examiner import Infant

from suffice.inference.evidence import Evidence

LEAST_DAYS_APART = 3.0  # practice does not divide by less, where it has the choice
USUAL_GAIN_G_D = 30.0
RULE_ML_KG = 150.0


@dataclass(frozen=True)
class Practice:
    """Two-point gain, its error, and the weight it starts from."""

    gain_g_d: float
    days: float
    last_g: float

    def below(self, limit_g_d: float, noise_g: float) -> float:
        """Probability of a gain below the limit if weighing errs normally."""
        return float(ndtr((limit_g_d - self.gain_g_d) / (np.sqrt(2) * noise_g / self.days)))


def practice(evidence: Evidence) -> Practice:
    """Last weight against the latest one at least three days earlier, else against birth."""
    points = [(0.0, evidence.birth_weight_g or 0.0)]
    points += sorted((r.age_d, r.weight_g) for r in evidence.weights)
    last_d, last_g = points[-1]
    earlier = [p for p in points[:-1] if last_d - p[0] >= LEAST_DAYS_APART] or points[:1]
    then_d, then_g = earlier[-1]
    return Practice((last_g - then_g) / (last_d - then_d), last_d - then_d, last_g)


def features(evidence: Evidence) -> list[float]:
    """The evidence as numbers for a regression of one schedule."""
    row = [1.0, evidence.birth_weight_g or 0.0, float(evidence.sex == "male")]
    row.append(float(evidence.mode == "caesarean"))
    row += [r.weight_g for r in sorted(evidence.weights, key=lambda r: r.age_d)]
    row += [t.transfer_g * (1.0 if t.whole_day else evidence.feeds_per_day or 1.0)
            for t in evidence.test_weighings]  # fmt: skip
    row += [float(d.count) for d in sorted(evidence.diapers, key=lambda d: d.id)]
    return row


@dataclass(frozen=True)
class Regression:
    """Least squares from the evidence of one schedule to one truth."""

    coefficients: np.ndarray
    sd: float

    @classmethod
    def train(cls, infants: list[Infant], truths: np.ndarray) -> Regression:
        x = np.array([features(infant.evidence) for infant in infants])
        coefficients, *_ = np.linalg.lstsq(x, truths, rcond=None)
        freedom = len(x) - x.shape[1]
        return cls(coefficients, float(np.sqrt(((truths - x @ coefficients) ** 2).sum() / freedom)))

    def predict(self, infants: list[Infant]) -> np.ndarray:
        return np.array([features(infant.evidence) for infant in infants]) @ self.coefficients
