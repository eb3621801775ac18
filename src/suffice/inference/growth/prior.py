"""A prior for weight over age: what infants do between two weighings, as one Gaussian process.

The scale is the *growth z*: distance from the WHO median in units of the WHO SD (median times
coefficient of variation), so grams and z are related by a straight line and everything here is
exact linear algebra. In this scale the weight of an infant is

    weight(t) = median(t) + sd(t) [ mean(t) + shift(t) + walk(t) ] + noise

- `mean` is the published dip of newborns below the WHO curve and its repair, by mode of delivery
  and weeks born early;
- `shift` is what a site's infants have in common (:mod:`suffice.inference.growth.site`), unknown
  but bounded where the site has no data;
- `walk` is the infant's own departure: a stationary process on stretched age whose correlation
  reproduces the SDs of the WHO increments and the correlation of successive gains, so catch-up
  (regression toward the mean) and the persistence of a slope follow from it;
- `noise` is normal: what feeds, stool, clothes and the scale do to one weight, and from the second
  week on a wander of some days (an ill day, a day of little stool) that the walk is too slow to
  follow. Weights of one hour share most of it. A share of gross errors is weighed down by what the
  infant's other weights say.

Limits: ages 0 to the last age of the reference; it knows nothing of intake, illness or feeding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from suffice.errors import InputError, Problem
from suffice.message import message

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class WeightReference:
    """Median and SD of weight by day of age, in grams.

    Attributes:
        median_g: Shape (2, days): row 0 girls, row 1 boys; column d is age d days.
        sd_g: Same shape: median times coefficient of variation (M times S of the LMS table).
    """

    median_g: Floats
    sd_g: Floats

    @property
    def last_day(self) -> int:
        """The oldest age that can be asked about, days."""
        return int(self.median_g.shape[1]) - 1

    def at(self, male_share: Floats, age_d: Floats) -> tuple[Floats, Floats]:
        """Median and SD in g at ages of shape (n, m); `male_share` (n,) is 0, 1 or between."""
        low = np.clip(age_d.astype(int), 0, self.last_day - 1)
        part = age_d - low
        share = male_share[:, None]
        both = []
        for table in (self.median_g, self.sd_g):
            by_sex = table[:, low] * (1 - part) + table[:, low + 1] * part
            both.append(by_sex[0] * (1 - share) + by_sex[1] * share)
        return both[0], both[1]


@dataclass(frozen=True, eq=False, kw_only=True)
class GrowthPrior:
    """Every number of the model; the content store holds them with their sources.

    Attributes:
        stretch_days: Age at which time has slowed to half: tau = log(1 + age / stretch_days).
        smooth_share: Share of the variance of the walk that moves smoothly (the rest is rough).
        walk_length: Length of both parts (Matern 3/2 and exponential), in units of tau.
        noise_g: SD of one weight of a newborn about the truth, g.
        noise_weekly_g: The same at `noise_weekly_days`, wander included.
        noise_older_g: The same from `noise_older_days` on.
        noise_newborn_days: Age, days, until which the first holds; between the ages the noise runs
            straight in its logarithm over stretched age.
        noise_weekly_days: Age, days, at which the second holds.
        noise_older_days: Age, days, from which the third holds.
        wander_days: Time, days, over which the wander is forgotten (exponential).
        sitting_h: Time, hours, between two weighings up to which they share their error.
        sitting_shared_fraction: Part of the variance of a newborn's noise that they then share.
        gross_share: Share of weights that are gross errors.
        gross_sd_g: SD of a gross error, g.
        knots_days: Ages, days, between which the mean and the shift run straight (in tau).
        mean_z: Mean at the knots, in growth z, for an infant born at term vaginally.
        caesarean_z: What caesarean birth adds to it at the knots.
        caesarean_share: Share of caesarean births, for infants whose mode is not known.
        early_week_z: What each week born before `term_days` adds at the knots.
        term_days: Gestation, days, from which nothing is added.
        early_weeks_max: Weeks born early beyond which no more is added.
        shift_sd_z: SD of a site's shift at the knots.
        shift_length: Length of the shift's correlation, in units of tau.
        birth_until_days: Age, days, until which a first weight tells the size at birth.
        small_from_z: Growth z at birth below which an infant counts as small.
        small_slope_z: What each growth z below that adds at the slope knots (times a negative
            number, so a positive slope means slower catch-up).
        slope_knots_days: Ages, days, of the knots of a site's slopes.
        birth_slope_sd: SD of the site's slope on growth z at birth, at the slope knots.
        sex_slope_sd: SD of the site's difference boys minus girls, at the slope knots.
        early_slope_sd: SD of the site's effect of a week born early, at the slope knots.
        spread_log_sd: How far (log scale) a site's spread of growth may differ from the default.
        noise_log_sd: The same for its noise of weighing.
        counted_share: Part of what an infant tells of its site that is counted.
        own_share: Part of the variance of a site's shift and slopes that is each infant's own.
        gross_weights: Weights whose worth the belief is that a site's share of gross errors is
            `gross_share`.
        own_spread_log_sd: How far (log scale) the spread of an infant's walk differs from the site's.
        own_noise_log_sd: The same for the noise of its weights.
    """

    stretch_days: float
    smooth_share: float
    walk_length: float
    noise_g: float
    noise_weekly_g: float
    noise_older_g: float
    noise_newborn_days: float
    noise_weekly_days: float
    noise_older_days: float
    wander_days: float
    sitting_h: float
    sitting_shared_fraction: float
    gross_share: float
    gross_sd_g: float
    knots_days: Floats
    mean_z: Floats
    caesarean_z: Floats
    caesarean_share: float
    early_week_z: Floats
    term_days: float
    early_weeks_max: float
    shift_sd_z: Floats
    shift_length: float
    birth_until_days: float
    small_from_z: float
    small_slope_z: Floats
    slope_knots_days: Floats
    birth_slope_sd: Floats
    sex_slope_sd: Floats
    early_slope_sd: Floats
    spread_log_sd: float
    noise_log_sd: float
    counted_share: float
    own_share: float
    gross_weights: float
    own_spread_log_sd: float
    own_noise_log_sd: float

    def tau(self, age_d: Floats) -> Floats:
        """Stretched age: log(1 + age / stretch_days), any shape."""
        stretched: Floats = np.log1p(age_d / self.stretch_days)
        return stretched

    def reading_noise_g(self, age_d: Floats, noise_g: float) -> Floats:
        """SD, g, of a weight at each age about the truth, where that of a newborn is `noise_g`."""
        ages = np.array([self.noise_newborn_days, self.noise_weekly_days, self.noise_older_days])
        over_newborn = (
            np.array([self.noise_g, self.noise_weekly_g, self.noise_older_g]) / self.noise_g
        )
        rise = np.interp(self.tau(age_d), self.tau(ages), np.log(over_newborn))
        found: Floats = noise_g * np.exp(rise)
        return found

    def correlation(self, tau_a: Floats, tau_b: Floats) -> Floats:
        """Correlation of the walk between stretched ages; shapes broadcast."""
        apart = np.abs(tau_a - tau_b) / self.walk_length
        scaled = np.sqrt(3.0) * apart
        smooth = (1 + scaled) * np.exp(-scaled)
        found: Floats = self.smooth_share * smooth + (1 - self.smooth_share) * np.exp(-apart)
        return found


@dataclass(frozen=True, kw_only=True)
class Worn:
    """What an infant wears on the scale, and the SD of it, in g."""

    clothes_g: float
    clothes_sd_g: float
    dry_diaper_g: float
    dry_diaper_sd_g: float

    def taken_off(self, clothing: str | None) -> tuple[float, float]:
        """What is to be taken off a weight and the SD of that, g; nothing where it is not said."""
        if clothing == "clothed":
            return self.clothes_g, self.clothes_sd_g
        if clothing == "dry diaper":
            return self.dry_diaper_g, self.dry_diaper_sd_g
        return 0.0, 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Weighed:
    """Weights of n infants, at most m each, with what the mean depends on.

    Attributes:
        age_d: Shape (n, m), days; nan where there is no weight.
        weight_g: Shape (n, m), g, what was worn taken off; nan where there is no weight. Birth weight
            is a weight at age 0.
        male_share: Shape (n,): 1 a boy, 0 a girl, 0.5 not known.
        gestation_days: Shape (n,), nan not known (taken as term).
        caesarean_share: Shape (n,): 1 caesarean, 0 vaginal, the population's share where unknown.
        extra_noise_g: Shape (n, m), SD in g added (in squares) to the noise: clothing, a scale of
            unknown bias; None for none.
    """

    age_d: Floats
    weight_g: Floats
    male_share: Floats
    gestation_days: Floats
    caesarean_share: Floats
    extra_noise_g: Floats | None = None

    def __post_init__(self) -> None:
        _check(self)

    @property
    def count(self) -> int:
        """How many infants."""
        return int(self.age_d.shape[0])

    def rows(self, chosen: npt.NDArray[np.intp] | npt.NDArray[np.bool_]) -> Weighed:
        """The chosen infants."""
        return Weighed(
            age_d=self.age_d[chosen],
            weight_g=self.weight_g[chosen],
            male_share=self.male_share[chosen],
            gestation_days=self.gestation_days[chosen],
            caesarean_share=self.caesarean_share[chosen],
            extra_noise_g=None if self.extra_noise_g is None else self.extra_noise_g[chosen],
        )

    def until(self, age_d: float | Floats) -> Weighed:
        """The same infants with the weights taken after `age_d` (scalar or (n,)) left out."""
        limit = np.broadcast_to(np.asarray(age_d, dtype=np.float64), (self.count,))[:, None]
        late = ~(self.age_d <= limit)
        return Weighed(
            age_d=np.where(late, np.nan, self.age_d),
            weight_g=np.where(late, np.nan, self.weight_g),
            male_share=self.male_share,
            gestation_days=self.gestation_days,
            caesarean_share=self.caesarean_share,
            extra_noise_g=self.extra_noise_g,
        )

    @property
    def order(self) -> npt.NDArray[np.intp]:
        """The columns of each infant's weights in the order of age (n, m), missing ones last."""
        return np.argsort(np.where(np.isnan(self.age_d), np.inf, self.age_d), axis=1, kind="stable")

    def in_order(self) -> Weighed:
        """The same weights of each infant in that order."""
        order, extra = self.order, self.extra_noise_g
        return Weighed(
            age_d=np.take_along_axis(self.age_d, order, axis=1),
            weight_g=np.take_along_axis(self.weight_g, order, axis=1),
            male_share=self.male_share,
            gestation_days=self.gestation_days,
            caesarean_share=self.caesarean_share,
            extra_noise_g=None if extra is None else np.take_along_axis(extra, order, axis=1),
        )


def stacked(some: list[Weighed]) -> Weighed:
    """Infants of several tables one below the other, padded to the longest."""
    width = max(weighed.age_d.shape[1] for weighed in some)

    def wide(values: Floats, empty: float) -> Floats:
        room = np.full((len(values), width - values.shape[1]), empty)
        return np.concatenate([values, room], axis=1)

    extra = [np.zeros_like(w.age_d) if w.extra_noise_g is None else w.extra_noise_g for w in some]
    return Weighed(
        age_d=np.concatenate([wide(w.age_d, np.nan) for w in some]),
        weight_g=np.concatenate([wide(w.weight_g, np.nan) for w in some]),
        male_share=np.concatenate([w.male_share for w in some]),
        gestation_days=np.concatenate([w.gestation_days for w in some]),
        caesarean_share=np.concatenate([w.caesarean_share for w in some]),
        extra_noise_g=np.concatenate([wide(e, 0.0) for e in extra]),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class SiteShift:
    """What is believed of the site's shift: normal in the q coefficients of the design.

    Attributes:
        mean: Shape (q,), or (n, q) when it differs by infant (each left out of its own).
        covariance: Shape (q, q) or (n, q, q).
        spread: Factor on the SD of the walk.
        noise_g: SD of one weight of a newborn at this site, g; it rises with age as the prior's.
        infants_count: How many infants it was learned from; 0 is the default prior.
        gross_share: Share of weights that are gross errors at this site.
    """

    mean: Floats
    covariance: Floats
    spread: float
    noise_g: float
    gross_share: float
    infants_count: int


def _check(weighed: Weighed) -> None:
    """Refuse arrays whose shapes or numbers cannot be computed with."""
    n, m = weighed.age_d.shape
    per_infant = (weighed.male_share, weighed.gestation_days, weighed.caesarean_share)
    shaped = weighed.weight_g.shape == (n, m) and all(a.shape == (n,) for a in per_infant)
    paired = shaped and bool((np.isnan(weighed.age_d) == np.isnan(weighed.weight_g)).all())
    given = weighed.weight_g[~np.isnan(weighed.weight_g)]
    ages = weighed.age_d[~np.isnan(weighed.age_d)]
    sound = bool(np.isfinite(given).all() and (given > 0).all())
    sound = sound and bool(np.isfinite(ages).all() and (ages >= 0).all())
    if not (paired and sound):
        raise InputError(
            Problem(
                code="FORECAST-001",
                what=message("Weights and ages of the cohort do not fit together."),
                why=message(
                    "Each weight is a finite number of grams above 0 with a finite age of 0 or"
                    " more days, and every infant has one sex, gestation and mode."
                ),
                fix=message("Check the rows that were handed over."),
            )
        )


def _straight(knots: Floats, at: Floats) -> Floats:
    """Weights of linear interpolation between knots, held at the ends: shape (*at.shape, k)."""
    held = np.clip(at, knots[0], knots[-1])[..., None]
    gaps = np.diff(knots)
    rising = np.clip((held - knots[:-1]) / gaps, 0.0, 1.0)
    ones = np.ones_like(held)
    starts = np.concatenate([ones, rising], axis=-1)
    ends = np.concatenate([rising, np.zeros_like(held)], axis=-1)
    found: Floats = starts - ends
    return found


@dataclass(frozen=True, eq=False)
class Grid:
    """The model laid out at ages of shape (n, m): mean, SD unit, design of the shift, stretched age."""

    age_d: Floats
    mean_g: Floats
    unit_g: Floats
    design_g: Floats
    tau: Floats


def lay_out(
    prior: GrowthPrior, reference: WeightReference, weighed: Weighed, age_d: Floats
) -> Grid:
    """The mean (g), the SD unit (g) and the design (n, m, q; g per coefficient) at some ages.

    The columns of the design are the shift at each knot, then at each slope knot the slope on
    growth z at birth, on sex and on weeks born early.
    """
    median_g, unit_g = reference.at(weighed.male_share, age_d)
    tau = prior.tau(age_d)
    main = _straight(prior.tau(prior.knots_days), tau)
    slopes = _straight(prior.tau(prior.slope_knots_days), tau)
    early = _early_weeks(prior, weighed)[:, None]
    birth = _birth_z(prior, reference, weighed)
    small = np.minimum(birth - prior.small_from_z, 0.0)[:, None]
    mean_z = (
        main @ prior.mean_z
        + weighed.caesarean_share[:, None] * (main @ prior.caesarean_z)
        + early * (main @ prior.early_week_z)
        + small * (slopes @ prior.small_slope_z)
    )
    birth = birth[:, None, None]
    boy = (weighed.male_share - 0.5)[:, None, None]
    design = np.concatenate(
        [main, slopes * birth, slopes * boy, slopes * early[..., None]], axis=-1
    )
    return Grid(
        age_d=age_d,
        mean_g=median_g + unit_g * mean_z,
        unit_g=unit_g,
        design_g=unit_g[..., None] * design,
        tau=tau,
    )


def _early_weeks(prior: GrowthPrior, weighed: Weighed) -> Floats:
    """Weeks born before term (n,), 0 where gestation is not known."""
    weeks = (prior.term_days - weighed.gestation_days) / 7.0
    return np.clip(np.nan_to_num(weeks, nan=0.0), 0.0, prior.early_weeks_max)


def _birth_z(prior: GrowthPrior, reference: WeightReference, weighed: Weighed) -> Floats:
    """Growth z at birth (n,) from a weight of the first days; 0 (the average) where there is none.

    A weight after birth is first freed from the mean dip. It enters the mean of small infants and
    the site's slopes only.
    """
    age = np.where(np.isnan(weighed.age_d), np.inf, weighed.age_d)
    at = age.argmin(axis=1)[:, None]
    first_age = np.take_along_axis(age, at, axis=1)
    known = first_age[:, 0] <= prior.birth_until_days
    first_age = np.where(np.isfinite(first_age), first_age, 0.0)
    median_g, unit_g = reference.at(weighed.male_share, first_age)
    dip = np.interp(prior.tau(first_age), prior.tau(prior.knots_days), prior.mean_z)
    z = (np.take_along_axis(weighed.weight_g, at, axis=1) - median_g) / unit_g - dip
    return np.where(known, np.clip(np.nan_to_num(z[:, 0]), -4.0, 4.0), 0.0)


def default_shift(prior: GrowthPrior) -> SiteShift:
    """The site's shift before any of its infants was seen: mean zero, SDs of the prior."""
    tau = prior.tau(prior.knots_days)
    slope_tau = prior.tau(prior.slope_knots_days)
    blocks = [(tau, prior.shift_sd_z)] + [
        (slope_tau, sd) for sd in (prior.birth_slope_sd, prior.sex_slope_sd, prior.early_slope_sd)
    ]
    sizes = [len(knots) for knots, _ in blocks]
    covariance = np.zeros((sum(sizes), sum(sizes)))
    start = 0
    for knots, sd in blocks:
        apart = np.abs(knots[:, None] - knots[None, :]) / prior.shift_length
        block = sd[:, None] * sd[None, :] * np.exp(-(apart**2) / 2)
        stop = start + len(knots)
        covariance[start:stop, start:stop] = block + 1e-6 * np.eye(len(knots))
        start = stop
    return SiteShift(
        mean=np.zeros(len(covariance)),
        covariance=covariance,
        spread=1.0,
        noise_g=prior.noise_g,
        gross_share=prior.gross_share,
        infants_count=0,
    )


def walk_covariance(prior: GrowthPrior, a: Grid, b: Grid, spread: float) -> Floats:
    """Covariance of the infants' own departures between two layouts, shape (n, ma, mb), g2."""
    shape = prior.correlation(a.tau[:, :, None], b.tau[:, None, :])
    found: Floats = spread**2 * a.unit_g[:, :, None] * b.unit_g[:, None, :] * shape
    return found
