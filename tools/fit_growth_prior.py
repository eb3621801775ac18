"""Derives the numbers of the growth prior's walk from published figures alone.

    python -m tools.fit_growth_prior          # fits, prints the residuals, compares with the content

The walk has three numbers: `stretch_days`, `smooth_fraction` and `walk_length_log` of the topic
`forecast`. They minimise the sum of squares of (model minus published) / uncertainty over

- 34 SDs of WHO gains of 1 and 2 months in the first year, by sex (from L, M, S);
- 10 SDs of WHO gains over 0-7, 7-14, 14-28, 28-42 and 42-60 days, by sex (from the 5th, 10th and
  25th centile and the median of all infants);
- 3 SDs of gain and 2 correlations of successive gains of 194 Dutch infants (SMOCC);
- 3 SDs of weight change of newborns.

SDs are compared in their logarithms. What is published holds more than the walk: the noise of two
weights is added as the prior has it, and, since the WHO sample came from six sites, five sixths of
the variance that the prior gives to differences between sites. No infant's weights enter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.special import ndtri

from suffice.clinical.growth.standard import GrowthStandards
from suffice.inference.growth.prior import (
    Floats,
    GrowthPrior,
    Weighed,
    WeightReference,
    default_shift,
    lay_out,
    walk_covariance,
)
from suffice.knowledge.growth_forecast import default_growth
from suffice.knowledge.tables import growth_standards

Span = tuple[float, float]

HALF_A_YEAR_D = 190
WHO_SITES_SHARE = 5 / 6
"""Six sites: the variance within such a sample holds this part of the variance between sites."""
MONTHS_LOG_SE, LATE_MONTHS_LOG_SE = 0.05, 0.10
"""Sampling of some 800 children and the smoothing of L, M, S; after half a year the walk matters
less to the program and noise more to the figures, so they count half."""
FORTNIGHT_LOG_SE, FIRST_WEEK_LOG_SE = 0.10, 0.30
"""Sampling of some 400 children and centiles printed in steps of 50 g make 10 %. The first week is
steps of 50 g altogether, and its SD (170 to 240 g) is twice that of every other source."""
SMOCC_SDS_G: dict[Span, float] = {(0, 30): 312.0, (30, 58): 220.0, (58, 90): 218.0}
SMOCC_LOG_SE = 0.07
SMOCC_CORRELATIONS: dict[tuple[Span, Span], float] = {
    ((0, 30), (30, 58)): 0.45,
    ((30, 58), (58, 90)): 0.44,
}
SMOCC_CORRELATION_SE = 0.03
"""Sampling alone makes (1 - r^2) / sqrt(194) = .057. About half of it, so that each counts nearly four times: two figures
stand against 47 SDs, 34 of them of the same children over the same months, and they alone say how a gain persists,
which is what a forecast rests on. The measure was taken from weights one step ahead (docs/validation/fan.md)."""
NEWBORN_SDS_PERCENT: dict[Span, float] = {
    (0, 2.5): 2.51,  # Noel-Weiss 2011, 10.1186/1746-4358-6-9: at 60 h
    (0, 3): 1.73,  # Bertini 2015, Acta Paediatr: at 72 h
    (0, 4): (9.4 - 4.1) / (2 * 1.2816),  # Fonseca 2014, 10.1111/birt.12087: 10th to 90th centile
}
NEWBORN_LOG_SE = 0.15
"""The sources disagree by so much."""
STUDY_NOISE_DAYS = 28.0
"""Age until which a study's weight is taken to be as good as a newborn's."""
BOUNDS = ([2.0, 0.0, 0.2], [200.0, 1.0, 10.0])
START = (30.0, 0.9, 2.0)
SEXES = ("girls", "boys")


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One published figure: an SD of gain, or (with `second`) a correlation of two gains.

    Attributes:
        source: Short name of where it stands.
        sexes: 0 girls, 1 boys; both where the source does not part them.
        span: From which to which day.
        second: The gain after it, for a correlation.
        value: SD in g, or the correlation.
        se: Its uncertainty: of the logarithm of an SD, or of the correlation.
        sites_share: Part of the variance between sites that it holds.
    """

    source: str
    sexes: tuple[int, ...]
    span: Span
    second: Span | None = None
    value: float
    se: float
    sites_share: float = 0.0


def skewed_sd(median: float, cv: float, skew: float) -> float:
    """SD of an LMS distribution."""
    score = np.linspace(-3.5, 3.5, 701)
    weight = np.exp(-(score**2) / 2)
    gain = median * np.maximum(1 + skew * cv * score, 1e-3) ** (1 / skew)
    mean = np.average(gain, weights=weight)
    return float(np.sqrt(np.average((gain - mean) ** 2, weights=weight)))


def figures(standards: GrowthStandards, reference: WeightReference) -> list[Figure]:
    """Every published figure of the fit."""
    return [*_of_months(standards), *_of_weeks(standards), *_of_others(reference)]


def _of_months(standards: GrowthStandards) -> Iterator[Figure]:
    table = standards.velocity
    for row in range(len(table.start_day)):
        for sex in (0, 1):
            yield Figure(
                source=f"WHO, {table.months[row]} mo",
                sexes=(sex,),
                span=(float(table.start_day[row]), float(table.end_day[row])),
                value=skewed_sd(
                    table.shifted_median_g[sex, row], table.cv[sex, row], table.skew[sex, row]
                ),
                se=MONTHS_LOG_SE if table.end_day[row] < HALF_A_YEAR_D else LATE_MONTHS_LOG_SE,
                sites_share=WHO_SITES_SHARE,
            )


def _of_weeks(standards: GrowthStandards) -> Iterator[Figure]:
    for row in standards.increments.rows:
        if row.from_g is None and row.below_g is None:
            below = [centile for centile in row.gain_g if centile < 50]
            score = -ndtri(np.array(below) / 100)
            under = np.array([row.gain_g[50] - row.gain_g[centile] for centile in below])
            yield Figure(
                source="WHO, weeks",
                sexes=(int(row.is_male),),
                span=(float(row.start_day), float(row.end_day)),
                value=float(score @ under / (score @ score)),
                se=FORTNIGHT_LOG_SE if row.start_day else FIRST_WEEK_LOG_SE,
                sites_share=WHO_SITES_SHARE,
            )


def _of_others(reference: WeightReference) -> Iterator[Figure]:
    for span, sd_g in SMOCC_SDS_G.items():
        yield Figure(source="SMOCC", sexes=(0, 1), span=span, value=sd_g, se=SMOCC_LOG_SE)
    for (span, second), value in SMOCC_CORRELATIONS.items():
        yield Figure(
            source="SMOCC, correlation",
            sexes=(0, 1),
            span=span,
            second=second,
            value=value,
            se=SMOCC_CORRELATION_SE,
        )
    born_g = float(reference.median_g[:, 0].mean())
    for span, percent in NEWBORN_SDS_PERCENT.items():
        yield Figure(
            source="newborns",
            sexes=(0, 1),
            span=span,
            value=born_g * percent / 100,
            se=NEWBORN_LOG_SE,
        )


def modelled(prior: GrowthPrior, reference: WeightReference, figure: Figure) -> float:
    """What the prior says that the figure should be."""
    spans = [figure.span, figure.second or figure.span]
    ages = np.array([spans])
    found = []
    for sex in figure.sexes:
        both = _gain_covariance(prior, reference, sex, ages.reshape(1, -1), figure.sites_share)
        if figure.second is None:
            found.append(float(np.sqrt(both[0, 0])))
        else:
            found.append(float(both[0, 1] / np.sqrt(both[0, 0] * both[1, 1])))
    return float(np.mean(found))


def as_studies_weigh(prior: GrowthPrior) -> GrowthPrior:
    """The prior with the noise of those who published: that of a newborn in the first month.

    Trained staff weighed twice and averaged; with the scatter of weekly weights in clinics the
    successive gains of the Dutch infants could not hang together as published (.25, not .45).
    """
    return replace(
        prior,
        noise_newborn_days=STUDY_NOISE_DAYS - 1,
        noise_weekly_days=STUDY_NOISE_DAYS,
        noise_weekly_g=prior.noise_g,
    )


def _gain_covariance(
    prior: GrowthPrior, reference: WeightReference, sex: int, ages: Floats, sites_share: float
) -> Floats:
    """Covariance (2, 2), g2, of two observed gains; `ages` (1, 4): start and end of each."""
    infant = Weighed(
        age_d=np.full((1, 1), np.nan),
        weight_g=np.full((1, 1), np.nan),
        male_share=np.array([float(sex)]),
        gestation_days=np.array([np.nan]),
        caesarean_share=np.zeros(1),
    )
    grid = lay_out(prior, reference, infant, ages)
    design = grid.design_g[0]
    weights = walk_covariance(prior, grid, grid, 1.0)[0]
    weights = weights + sites_share * design @ default_shift(prior).covariance @ design.T
    noise = as_studies_weigh(prior).reading_noise_g(ages[0], prior.noise_g) ** 2
    weights = weights + np.where(ages[0][:, None] == ages[0][None, :], noise, 0.0)
    gains = np.array([[-1.0, 1.0, 0.0, 0.0], [0.0, 0.0, -1.0, 1.0]])
    return gains @ weights @ gains.T


def residuals(prior: GrowthPrior, reference: WeightReference, wanted: list[Figure]) -> Floats:
    """(Model minus published) / uncertainty of every figure."""
    found = np.array([modelled(prior, reference, figure) for figure in wanted])
    value = np.array([figure.value for figure in wanted])
    away = np.where(
        [figure.second is None for figure in wanted], np.log(found / value), found - value
    )
    return away / np.array([figure.se for figure in wanted])


def with_walk(prior: GrowthPrior, numbers: Floats) -> GrowthPrior:
    """The prior with (stretch_days, smooth_share, walk_length) replaced."""
    stretch, smooth, length = (float(number) for number in numbers)
    return replace(prior, stretch_days=stretch, smooth_share=smooth, walk_length=length)


def fit(prior: GrowthPrior, reference: WeightReference, wanted: list[Figure]) -> Floats:
    """The three numbers with the least sum of squares."""
    found = least_squares(
        lambda numbers: residuals(with_walk(prior, numbers), reference, wanted),
        START,
        bounds=BOUNDS,
        x_scale=(20.0, 0.3, 1.0),
    )
    return np.asarray(found.x)


def summary(prior: GrowthPrior, reference: WeightReference, wanted: list[Figure]) -> str:
    """Every figure beside what the prior makes of it, as a Markdown table."""
    lines = [
        "| source | days | of | published | prior | residual |",
        "|---|---|---|---|---|---|",
    ]
    for figure, away in zip(wanted, residuals(prior, reference, wanted), strict=True):
        days = " and ".join(
            f"{start:g} to {stop:g}" for start, stop in (figure.span, figure.second) if stop
        ) if figure.second else f"{figure.span[0]:g} to {figure.span[1]:g}"  # fmt: skip
        whose = " and ".join(SEXES[sex] for sex in figure.sexes)
        form = ".0f" if figure.second is None else ".2f"
        lines.append(
            f"| {figure.source} | {days} | {whose} | {figure.value:{form}}"
            f" | {modelled(prior, reference, figure):{form}} | {away:+.1f} |"
        )
    return "\n".join(lines)


def main() -> None:
    prior, reference = default_growth()
    wanted = figures(growth_standards(), reference)
    numbers = fit(prior, reference, wanted)
    print(summary(prior, reference, wanted))
    for name, one in (("content", prior), ("least", with_walk(prior, numbers))):
        squares = float((residuals(one, reference, wanted) ** 2).sum())
        print(
            f"{name}: stretch {one.stretch_days:.2f} d, smooth {one.smooth_share:.3f},"
            f" length {one.walk_length:.3f}: sum of squares {squares:.2f}"
        )


if __name__ == "__main__":
    main()
