"""The answer to 'is it enough?': intervals, probabilities, forecast, and what stands behind them.

Probabilities and fractions run from 0 to 1, percents and centiles from 0 to 100. No field ever
holds a value that is not finite; what cannot be said is ``None``, with a caution that tells why.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

import msgspec

from suffice.message import Message, Words, message

VOLUME_SENTENCE = message(
    "Weights alone cannot fix a volume: the same gain fits a range of intakes, because the energy"
    " of the milk and the needs of the infant are not known."
)
LIMITS_SENTENCE = message(
    "The intervals suppose usual weighing and an intake that drifts slowly. They are too narrow"
    " where weights scatter much more than usual, where intake swings from week to week, where a"
    " scale changed and nobody noted it, or where the last weight is wrong."
)
CALIBRATION_SENTENCE = message(
    "Model calibrated on published aggregates; never clinically validated."
)
QUANTILE_95 = 1.959963984540054
"""Two-sided standard normal quantile of 95 %, as the least difference of two weights takes it."""
WIDTH_80 = 2.5631031310892007
"""Width of the 80 % interval of a normal, in its SDs."""


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """The limits against which the probabilities are asked; the caller takes them from content.

    Attributes:
        gain_limit_g_per_day: Gain below which growth is too slow, g/day.
            Intake is short where it does not allow for this much.
        requirement_gain_g_per_day: Growth for which the infant's own requirement allows, g/day.
        requirement_ml_per_kg_per_day: A fixed requirement per kg of present weight; None: the
            infant's own energy need, as the model sees it.
        regain_day: Day by which birth weight should be regained.
        horizon_d: Days of forecast.
        settled_fraction: Certainty at which a question counts as settled (0.5 to 1).
        settling_chance_fraction: Chance of settling it that makes a weighing worth while.
        weighing_days_max: Last day from now considered for the next weighing, days.
        future_milk_given_ml_per_day: Supplement assumed from now on; None: as in the last 48 h.
    """

    gain_limit_g_per_day: float
    requirement_gain_g_per_day: float
    regain_day: float
    horizon_d: int
    settled_fraction: float
    settling_chance_fraction: float
    weighing_days_max: int
    requirement_ml_per_kg_per_day: float | None = None
    future_milk_given_ml_per_day: float | None = None

    KEYS: ClassVar[dict[str, str]] = {
        "gain_limit_g_per_day": "population.question_gain_limit",
        "regain_day": "population.question_regain_day",
        "horizon_d": "population.question_horizon",
        "settled_fraction": "population.question_settled",
        "settling_chance_fraction": "population.question_settling_chance",
        "weighing_days_max": "population.question_weighing_days_max",
    }

    @classmethod
    def from_constants(cls, values: Mapping[str, float]) -> Question:
        """The question as the content store (or a clinic's policy) asks it; keys as in `KEYS`.

        The requirement allows for the limit of gain, until the caller says what an infant of this
        age and sex is expected to gain.
        """
        named = {field: float(values[key]) for field, key in cls.KEYS.items()}
        whole = {name: int(named.pop(name)) for name in ("horizon_d", "weighing_days_max")}
        named["requirement_gain_g_per_day"] = named["gain_limit_g_per_day"]
        return cls(**named, **whole)  # type: ignore[arg-type]  # ints and floats by name


class Interval(msgspec.Struct, frozen=True, kw_only=True):
    """A median with its 50, 80 and 95 % intervals, all in `unit`."""

    unit: str
    median: float
    low_50: float
    high_50: float
    low_80: float
    high_80: float
    low_95: float
    high_95: float


class Forecast(msgspec.Struct, frozen=True, kw_only=True):
    """The weight fan: at age `age_d[i]` days the quantile `levels[j]` is `weight_g[i][j]`.

    It starts at the present age and supposes that feeding goes on as now.

    Attributes:
        age_d: Ages, days.
        levels: Levels of the quantiles, 0 to 1.
        weight_g: Of the true weight, g; at the present age it is the present weight.
        reading_g: Of what a scale will show then, naked: the noise of one weighing is added.
        milk_given_ml_per_day: Milk given from now on that is supposed, mL/day.
    """

    age_d: tuple[float, ...]
    levels: tuple[float, ...]
    weight_g: tuple[tuple[float, ...], ...]
    reading_g: tuple[tuple[float, ...], ...]
    milk_given_ml_per_day: float


class LossCentile(msgspec.Struct, frozen=True, kw_only=True):
    """Where the latest weight stands among infants of the same age in hours and mode of delivery.

    `centile` is the percentage of infants of the model who have lost more (or gained less).
    """

    reading_id: str
    age_h: float
    mode: str
    change_percent: float
    median_change_percent: float
    centile: float
    label: Message = CALIBRATION_SENTENCE


class Influence(msgspec.Struct, frozen=True, kw_only=True):
    """How far one reading moved the answer: the answer with it minus the answer without it.

    `shift_sd` is the largest of the three shifts in units of the answer's own SD; `rough` says
    that it was computed from few effective draws and is an order of magnitude only. All milk given
    counts as one reading; every intake shift is that of the intake at the breast.
    """

    reading_id: str
    kind: Literal["weight", "test weighing", "diapers", "milk given"]
    shift_sd: float
    gain_shift_g_per_day: float
    intake_shift_ml_per_day: float
    short_probability_shift: float
    rough: bool


class Suspect(msgspec.Struct, frozen=True, kw_only=True):
    """A weight that the rest of the evidence contradicts, and the question to ask.

    Attributes:
        reading_id: The reading.
        probability: Probability that it is wrong in a way that ordinary noise does not explain.
        reason: The likeliest kind of error.
        residual_g: Reading minus what the rest leads to expect, g.
        expected_g: What was to be expected, g.
        perhaps_g: What may have been meant, where a typing slip explains it, g.
        ask: The question to ask.
    """

    reading_id: str
    probability: float
    reason: Literal["clothed", "other scale", "slip", "unexplained"]
    residual_g: float
    expected_g: float
    ask: Message
    perhaps_g: float | None = None


class NextWeighing(msgspec.Struct, frozen=True, kw_only=True):
    """When weighing again will settle whether the gain is below the limit.

    Attributes:
        in_days: Days from now; 0 when it is settled already, None when no day within reach does.
        settling_chance_fraction: Chance that this weighing settles it.
        half_width_g_per_day: 90 % half-width of the gain then.
        candidates: (days from now, chance of settling, 90 % half-width g/day) for each day.
        least_difference_g: How far two weights on this scale must lie apart before they differ by
            more than the noise of weighing (95 %), g.
        because: One sentence that gives the reason.
    """

    in_days: int | None
    settling_chance_fraction: float
    half_width_g_per_day: float
    candidates: tuple[tuple[int, float, float], ...]
    least_difference_g: float
    because: Message


class Caution(msgspec.Struct, frozen=True, kw_only=True):
    """A reason to trust the answer less. `severity` 'refusal' means: do not show the numbers."""

    code: str
    severity: Literal["note", "caution", "refusal"]
    sentence: Words
    params: dict[str, float | str] = {}


class Diagnostics(msgspec.Struct, frozen=True, kw_only=True):
    """How the answer was computed: draws made, effective draws, and the modes that were found.

    `weights_log_density` says how likely the energy model finds the weights, `growth_log_density` how
    likely the growth prior finds them; None where the forecast was not pooled with it.
    """

    kind: Literal["preview", "full"]
    draws_count: int
    effective_draws: float
    modes_count: int
    iterations_count: int
    preview_shift_sd: float
    weights_log_density: float
    growth_log_density: float | None = None


class Estimate(msgspec.Struct, frozen=True, kw_only=True):
    """The engine's answer for one infant at one instant.

    Intake is the smooth rate in the 24 h that end now. `requirement` is the total intake at which
    this infant would grow at the question's requirement gain (or the fixed requirement asked for), and
    `share_of_requirement` is of it. `intake_short_probability` is that of an intake which does not
    allow for the question's limit of gain: less than the requirement is not short yet.
    `regain_age_d` is None once no draw regains within the horizon; its upper quantiles are capped
    there. `not_regained_probability` is None when neither birth weight nor weight is known.
    """

    age_d: float
    breast_intake: Interval
    total_intake: Interval
    milk_given_ml_per_day: float
    requirement: Interval
    share_of_requirement: Interval
    present_weight: Interval
    gain: Interval
    intake_short_probability: float
    gain_below_limit_probability: float
    not_regained_probability: float | None
    regain_age_d: Interval | None
    forecast: Forecast
    loss_centile: LossCentile | None
    influences: tuple[Influence, ...]
    suspects: tuple[Suspect, ...]
    next_weighing: NextWeighing
    cautions: tuple[Caution, ...]
    diagnostics: Diagnostics
    question: Question
    volume_sentence: Message = VOLUME_SENTENCE
    limits_sentence: Message = LIMITS_SENTENCE
    calibration_sentence: Message = CALIBRATION_SENTENCE

    @property
    def is_refused(self) -> bool:
        """Whether the numbers must not be shown."""
        return any(caution.severity == "refusal" for caution in self.cautions)

    @property
    def is_reliable(self) -> bool:
        """Whether the engine's own diagnostics passed and nothing refuses."""
        return not self.is_refused and all(c.code != "few-effective-draws" for c in self.cautions)
