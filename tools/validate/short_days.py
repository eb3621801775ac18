"""How often a day with the proposed supplement is short, against the chance that the plan states.

python -m tools.validate.short_days [--infants N] [--page PATH]

Of each setting (need and its spread, what is taken and its spread, feeds) infants are drawn whose true need and
intake scatter as their intervals say: in a normal shape, in one skewed to large intakes, and in one skewed to
small ones, each with the same 80 % interval's width and the same middle. The supplement that `plan/size` proposes
is given to all of them; a day is short below the lower share of its own need.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from suffice.clinical.working import Figure, Working
from suffice.knowledge.store import load
from suffice.plan.parameters import PlanParameters, plan_parameters
from suffice.plan.size import Known, _both, supplement

Shape = Literal["normal", "skewed to large", "skewed to small"]
Draws = NDArray[np.float64]
NEEDS_ML: Final = (420.0, 480.0, 540.0, 600.0, 660.0)
NEED_SPREADS: Final = (0.05, 0.08, 0.10)
"""Shares of the need."""
TAKEN: Final = (0.4, 0.6, 0.75, 0.85)
"""Shares of the need."""
TAKEN_SDS_ML: Final = (20.0, 35.0, 50.0, 60.0, 70.0)
FEEDS: Final = 8
TOLERANCE: Final = 0.02
"""How far the realised chance may be from the stated one."""
LEVEL: Final = 0.8
SKEW: Final = 0.5
"""Log-scale spread of the skewed shapes: skewness 1.75, a strong one; judgement, ours."""
CAUSE: Final = (
    "The sizing takes need and intake as normal and independent. Where they are, what is stated comes true; where they"
    " are skewed it is off by as much as stands here: the ends of an interval are used, its shape is not."
)
INFANTS: Final = 20_000
SEED: Final = 20261130


class Setting(NamedTuple):
    """What is known of an infant, mL a day, and the shape in which the truth scatters about it."""

    need_ml: float
    need_sd_ml: float
    taken_ml: float
    taken_sd_ml: float
    shape: Shape


class Realised(NamedTuple):
    """What came of a setting: the chance that was stated, and the share of days that were short."""

    setting: Setting
    stated: float
    short: float

    @property
    def off(self) -> float:
        """How far the stated chance was from what came."""
        return abs(self.short - self.stated)


def settings() -> Iterator[Setting]:
    """All of the grid: 900 of them."""
    shapes: tuple[Shape, ...] = get_args(Shape)
    for need, spread, share, sd, shape in itertools.product(
        NEEDS_ML, NEED_SPREADS, TAKEN, TAKEN_SDS_ML, shapes
    ):
        yield Setting(need, spread * need, share * need, sd, shape)


def realised(
    setting: Setting, parameters: PlanParameters, infants: int = INFANTS, seed: int = SEED
) -> Realised | None:
    """What comes of a setting; None where no supplement is proposed.

    Args:
        setting: What is known, and how the truth scatters.
        parameters: The values in force.
        infants: How many are drawn.
        seed: Of the draws.
    """
    known = _known(setting)
    sized = supplement(known, parameters)
    given = sized.ml_per_day
    if sized.outcome != "amount" or given is None:
        return None
    low = parameters.band_low_fraction.value
    draw = np.random.default_rng(seed)
    need = setting.need_ml + setting.need_sd_ml * _scatter(draw, infants, setting.shape)
    taken = setting.taken_ml + setting.taken_sd_ml * _scatter(draw, infants, setting.shape)
    short = float(np.mean(taken + given < low * need))
    return Realised(setting, _both(known).is_less(low, given), short)


def _scatter(draw: np.random.Generator, count: int, shape: Shape) -> Draws:
    """Draws about 0 whose 80 % interval is as wide as that of a normal of SD 1, with their median at its middle."""
    normal = draw.standard_normal(count)
    if shape == "normal":
        return normal
    z = float(ndtri((1 + LEVEL) / 2))
    wide = np.expm1(SKEW * z) - np.expm1(-SKEW * z)
    skewed: Draws = np.expm1(SKEW * normal) * (2 * z / wide)
    return skewed if shape == "skewed to large" else -skewed


def _figure(value: float, sd: float) -> Figure:
    half = float(ndtri((1 + LEVEL) / 2)) * sd
    return Figure(
        value=value, unit="mL/d", low=value - half, high=value + half, level=LEVEL, working=Working(formula="")
    )  # fmt: skip


def _known(setting: Setting) -> Known:
    """An infant of two weeks of whom just this is known."""
    return Known(
        age_h=14 * 24.0,
        gestation_days=276,
        weight_g=3400.0,
        weight_age_h=14 * 24.0 - 2,
        need=_figure(setting.need_ml, setting.need_sd_ml),
        taken=_figure(setting.taken_ml, setting.taken_sd_ml),
        is_short=True,
        suffices=False,
        is_unwell=False,
        at_breast=True,
        feeds_count=FEEDS,
    )


def page(infants: int = INFANTS) -> str:
    """The figures as a page."""
    parameters = plan_parameters(load())
    every = list(settings())
    found = [one for each in every if (one := realised(each, parameters, infants)) is not None]
    lines = [
        "# Validation: short days",
        "",
        (
            f"Written by `python -m tools.validate.short_days`: {len(every)} settings, {infants} infants each,"
            f" seed {SEED}. {len(found)} settings have an amount; in the others none is safe both ways, or none is"
            " needed. A day is short below the lower share of the infant's own need. Nobody's data: all is drawn."
        ),
        "",
        (
            f"| true need and intake | intake known to | settings | within {TOLERANCE:g} | mean off | at worst |"
            " short more often than stated by at most |"
        ),
        "|---|---|---|---|---|---|---|",
    ]
    for shape, sd in itertools.product(get_args(Shape), TAKEN_SDS_ML):
        of = [one for one in found if (one.setting.shape, one.setting.taken_sd_ml) == (shape, sd)]
        if of:
            within = float(np.mean([one.off <= TOLERANCE for one in of]))
            mean, most = float(np.mean([one.off for one in of])), max(one.off for one in of)
            more = max(max(one.short - one.stated, 0.0) for one in of)
            lines.append(
                f"| {shape} | {sd:g} mL | {len(of)} | {within:.2f} | {mean:.3f} | {most:.3f} | {more:.3f} |"
            )
    worst = max(found, key=lambda one: one.off)
    at = worst.setting
    lines += [
        "",
        (
            f"The worst: stated {worst.stated:.3f}, came {worst.short:.3f} ({at.shape}, need {at.need_ml:g} mL, taken"
            f" {at.taken_ml:g} mL, known to {at.taken_sd_ml:g} mL)."
        ),
        "",
        CAUSE,
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measure, print, and write the page where one is named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--infants", type=int, default=INFANTS)
    parser.add_argument("--page", type=Path)
    asked = parser.parse_args()
    text = page(asked.infants)
    print(text)
    if asked.page:
        asked.page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
