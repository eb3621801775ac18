"""Every number of the engine's answer with its working: formula, what went in, constants, sources.

The engine is pure and receives its parameters as plain numbers; the content store knows where each
comes from. Here the two meet again, for whoever shows an answer: pages and the command line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, Literal

import msgspec

from suffice.assess.engine.ask import expected_asked, limit_asked, speaks_of_intake
from suffice.assess.engine.division import why_not_divided, why_not_weighed
from suffice.assess.results import EngineFacts
from suffice.clinical.units import DAYS_PER_WEEK
from suffice.clinical.working import Constant, Quantity, Working
from suffice.inference.estimate import QUANTILE_95, Estimate, Influence, Interval
from suffice.knowledge.store import Content
from suffice.message import Words, message

Key = Literal[
    "total_intake",
    "breast_intake",
    "requirement",
    "share_of_requirement",
    "gain",
    "present_weight",
    "regain_age_d",
    "intake_short_probability",
    "gain_below_limit_probability",
    "not_regained_probability",
    "least_difference_g",
    "standing",
]


class EngineAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """One number of the engine's answer.

    Attributes:
        key: Its name in the estimate.
        working: How it came about.
        interval: Median with its 50, 80 and 95 % intervals; None for a probability or a single number.
        value: A probability (0 to 1), or a single number in the unit of its name.
        capped_at: The end of the forecast where an age reached it: the true one may be later.
    """

    key: Key
    working: Working
    interval: Interval | None = None
    value: float | None = None
    capped_at: float | None = None


SUPPLY: Final = ("energy_log", "supply_sd", "maturation_fraction", "maturation_d", "drift_sd")
MILK: Final = ("density_later", "density_log_sd")
NEED: Final = ("expenditure_later", "expenditure_log_sd", "tissue_cost", "tissue_cost_log_sd")
WEIGHING: Final = ("noise_physiological_g", "noise_log_sd", "outlier_fraction")
NOISE: Final = ("noise_sd_g", "noise_weekly_sd_g", "noise_older_sd_g")
CAESAREAN: Final = "caesarean"


MOVED_SHOWN: Final = 5
"""Entries that are named among those that moved the answer."""


class Ahead(msgspec.Struct, frozen=True, kw_only=True):
    """What a scale is forecast to show some days from now, in g: median and 80 % interval."""

    in_days: float
    median_g: float
    low_80_g: float
    high_80_g: float


def engine_answers(
    estimate: Estimate, content: Content, facts: EngineFacts
) -> tuple[EngineAnswer, ...]:
    """All numbers of an answer that may be shown, each with its working.

    None of a refused answer. Intake, requirement, gain and their probabilities only where the answer
    speaks of this infant's intake; the probability about birth weight only before its day.

    Args:
        estimate: The engine's answer.
        content: The content in force, for constants and their sources.
        facts: What decides which of them were used.
    """
    if estimate.is_refused:
        return ()
    return tuple(_answers(estimate, _Sources(content, estimate, facts)))


def moved_most(estimate: Estimate) -> list[Influence]:
    """The entries that moved the answer most, the strongest first."""
    return sorted(estimate.influences, key=lambda one: -abs(one.shift_sd))[:MOVED_SHOWN]


def forecast_ahead(estimate: Estimate) -> tuple[Ahead, ...]:
    """The forecast a week from now and at its end; nothing of a refused answer."""
    fan = estimate.forecast
    if estimate.is_refused:
        return ()
    low, middle, high = (fan.levels.index(level) for level in (0.1, 0.5, 0.9))
    last = len(fan.age_d) - 1
    return tuple(
        Ahead(
            in_days=round(fan.age_d[place] - fan.age_d[0]),
            median_g=fan.reading_g[place][middle],
            low_80_g=fan.reading_g[place][low],
            high_80_g=fan.reading_g[place][high],
        )
        for place in sorted({min(DAYS_PER_WEEK, last), last})
    )


def forecast_working(estimate: Estimate, content: Content, facts: EngineFacts) -> Working:
    """How the forecast came about: the energy model's pooled with the growth prior's.

    The ages of the reference end long after those of the engine (see `inference.growth.blend`).
    """
    sources = _Sources(content, estimate, facts)
    supposed = estimate.forecast.milk_given_ml_per_day
    even_d = content.constant("forecast.blend_even_d")
    exponent = content.constant("forecast.blend_exponent")
    most = content.constant("forecast.blend_most_log_ratio")
    noise = tuple(content.constant(f"forecast.{name}") for name in NOISE)
    odds = Quantity(
        name=message("odds of the growth prior where both are equally sure"),
        value=(estimate.age_d / even_d.value) ** exponent.value,
        unit="1",
    )
    given = Quantity(
        name=message("milk given a day that the forecast supposes"), value=supposed, unit="mL/d"
    )
    notes: tuple[Words, ...] = (
        message("It supposes that feeding goes on as now."),
        message("What a scale will show: the error of one weighing is part of the interval."),
        message("The growth prior's own values are in the library under forecast."),
    )
    if facts.milk_given_count:
        displaced = content.constant("forecast.displaced_fraction")
        spread = content.constant("forecast.displaced_sd_fraction")
        noise = (*noise, displaced, spread)
        notes = (
            *notes,
            message(
                "Milk that began, rose, fell or was no longer written down after the last weight:"
                " the breast may make good none of the change or all of it, and the interval is as"
                " much wider."
            ),
        )
    return sources.working(
        message(
            "share x growth prior + (1 - share) x energy model; share = odds / (1 + odds), odds = (age /"
            " even age)^exponent x (SD of the energy model / SD of the growth prior)^2 x (likelihood of"
            " the weights by the growth prior / by the energy model, within a limit); the further"
            " apart the two, the wider the interval; share = 1 where the energy model does not know the"
            " infant (born before term, small at birth, a multiple)"
        ),
        *sources.given,
        "question_horizon",
        inputs=(given, odds, *_likelier(estimate, most)),
        notes=notes,
        more=(even_d, exponent, most, *noise),
    )


def _likelier(estimate: Estimate, most: Constant) -> Iterator[Quantity]:
    """How many times likelier the growth prior finds the weights, as far as it counts."""
    drawn = estimate.diagnostics
    if drawn.growth_log_density is None:
        return
    log_ratio = drawn.growth_log_density - drawn.weights_log_density
    yield Quantity(
        name=message("weights so many times likelier by the growth prior"),
        value=math.exp(min(max(log_ratio, -most.value), most.value)),
        unit="1",
    )


class _Sources:
    """Constants by their short names, and what every working of one answer holds."""

    def __init__(self, content: Content, estimate: Estimate, facts: EngineFacts) -> None:
        self.content = content
        self.facts = facts
        self.speaks = speaks_of_intake(estimate, content)
        self.seen = tuple(_seen(estimate, facts))
        self.onset = _by_mode(facts, "onset_vaginal_d", "onset_caesarean_d")
        self.excess_of_mode = _by_mode(facts, "excess_vaginal", "excess_caesarean")
        wetter, self.fluids = self._of_fluids(facts)
        self.excess = (*self.excess_of_mode, *wetter, "excess_d")
        self.given = ("given_milk_density",) if facts.milk_given_count else ()

    def _of_fluids(self, facts: EngineFacts) -> tuple[tuple[str, ...], tuple[Quantity, ...]]:
        """What fluids in labour bring in; nothing after a caesarean, whose excess is its own value."""
        if facts.fluids_ml is None or facts.mode == CAESAREAN:
            return (), ()
        is_much = facts.fluids_ml > self.content.constant("population.fluids_much_ml").value
        added = "excess_much_fluids_log" if is_much else "excess_few_fluids_log"
        seen = Quantity(name=message("fluids in labour"), value=facts.fluids_ml, unit="mL")
        return ("fluids_much_ml", added), (seen,)

    def working(
        self,
        formula: Words,
        *names: str,
        inputs: tuple[Quantity, ...] = (),
        notes: tuple[Words, ...] = (),
        more: tuple[Constant, ...] = (),
    ) -> Working:
        used = dict.fromkeys(names)
        found = [*more, *(self.content.constant(f"population.{name}") for name in used)]
        return Working(
            formula=formula, inputs=(*inputs, *self.seen), constants=tuple(found), notes=notes
        )


def _by_mode(facts: EngineFacts, vaginal: str, caesarean: str) -> tuple[str, ...]:
    """The value of the infant's mode of delivery; of both, with their shares, where it is not known."""
    if facts.mode is None:
        return (vaginal, caesarean, "caesarean_fraction")
    return (caesarean,) if facts.mode == CAESAREAN else (vaginal,)


def _seen(estimate: Estimate, facts: EngineFacts) -> Iterator[Quantity]:
    """What of the infant went in, as counts; and how many draws carry the answer."""
    yield Quantity(name=message("age of the infant"), value=round(estimate.age_d, 2), unit="d")
    kinds = [one.kind for one in estimate.influences]
    for kind, name in (
        ("weight", message("weights after birth")),
        ("test weighing", message("test weights")),
        ("diapers", message("counts of wets or stools")),
    ):
        if kind in kinds:
            yield Quantity(name=name, value=kinds.count(kind), unit="count")
    if facts.milk_given_count:
        count = facts.milk_given_count
        yield Quantity(name=message("feeds given as well as the breast"), value=count, unit="count")
    drawn = estimate.diagnostics
    yield Quantity(name=message("draws made"), value=drawn.draws_count, unit="count")
    yield Quantity(
        name=message("effective draws"), value=round(drawn.effective_draws), unit="count"
    )


def _answers(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    if sources.speaks:
        yield from _intake(estimate, sources)
        yield from _gain(estimate, sources)
    yield from _regain(estimate, sources)
    if sources.speaks:
        yield from _probabilities(estimate, sources)
    yield from _late(estimate, sources)
    yield from _weighing(estimate, sources)


def _intake(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    given = Quantity(
        name=message("milk given in 24 h, as entered"),
        value=estimate.milk_given_ml_per_day,
        unit="mL/d",
    )
    volume = (estimate.volume_sentence,)
    yield EngineAnswer(
        key="total_intake",
        interval=estimate.total_intake,
        working=sources.working(
            message("intake at the breast + milk given in the last 24 h, draw by draw"),
            *SUPPLY,
            *sources.onset,
            *MILK,
            *sources.given,
            inputs=(
                _median(message("intake at the breast, median"), estimate.breast_intake),
                given,
            ),
            notes=(*volume, *why_not_weighed(estimate, sources.facts)),
        ),
    )
    yield EngineAnswer(
        key="breast_intake",
        interval=estimate.breast_intake,
        working=sources.working(
            message(
                "energy taken at the breast in a day / energy of a mL of milk, draw by draw; the energy is"
                " supply x onset of lactation x maturation x drift, as the weights ask for"
            ),
            *SUPPLY,
            *sources.onset,
            *MILK,
            *sources.given,
            inputs=(given,) if sources.given else (),
            notes=volume,
        ),
    )
    yield EngineAnswer(
        key="requirement",
        interval=estimate.requirement,
        working=sources.working(
            message(
                "(energy spent x weight + energy of a gram of tissue x growth asked for) / energy of a mL"
                " of milk, draw by draw"
            ),
            *NEED,
            *MILK,
            inputs=(_median(message("weight now, median"), estimate.present_weight),),
            more=(expected_asked(sources.content, estimate),),
        ),
    )
    yield _share(estimate, sources)


def _share(estimate: Estimate, sources: _Sources) -> EngineAnswer:
    share = estimate.share_of_requirement
    return EngineAnswer(
        key="share_of_requirement",
        interval=share,
        working=sources.working(
            message("100 x energy taken / energy required, draw by draw"),
            *NEED,
            *MILK,
            *sources.given,
            inputs=(
                _median(message("intake in all, median"), estimate.total_intake),
                _median(message("requirement, median"), estimate.requirement),
            ),
            more=(expected_asked(sources.content, estimate),),
        ),
    )


def tells_gain(estimate: Estimate) -> bool:
    """Whether the interval of the gain says anything: not where it holds a loss and twice what is expected."""
    expected = estimate.question.requirement_gain_g_per_day
    return estimate.gain.low_80 > 0 or estimate.gain.high_80 < 2 * expected


def _present_gain(estimate: Estimate, sources: _Sources) -> EngineAnswer:
    return EngineAnswer(
        key="gain",
        interval=estimate.gain,
        working=sources.working(
            message(
                "(tissue now - tissue some days ago) / days, draw by draw; without water, stool and the"
                " noise of weighing"
            ),
            "gain_window_d",
            *WEIGHING,
            "tissue_cost",
            notes=tuple(why_not_divided(estimate, sources.facts)),
        ),
    )


def _gain(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    if tells_gain(estimate):
        yield _present_gain(estimate, sources)
    yield EngineAnswer(
        key="present_weight",
        interval=estimate.present_weight,
        working=sources.working(
            message(
                "where the forecast starts: tissue + excess fluid of birth + content of gut and bladder,"
                " draw by draw, pooled with the growth prior as the forecast is; without the noise of"
                " weighing"
            ),
            *WEIGHING,
            *sources.excess,
            "content_fraction",
            inputs=sources.fluids,
        ),
    )


def _regain(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    regain, end_d = estimate.regain_age_d, estimate.forecast.age_d[-1]
    if regain is None or regain.median <= estimate.age_d:
        return
    notes = (message("An age at the end of the forecast means that age or later."),)
    yield EngineAnswer(
        key="regain_age_d",
        interval=regain,
        capped_at=end_d if regain.high_95 >= end_d else None,
        working=sources.working(
            message(
                "age from which the forecast stays at or above birth weight; the working of the forecast says"
                " how it comes about"
            ),
            *sources.excess,
            "question_horizon",
            inputs=(
                Quantity(name=message("end of the forecast"), value=end_d, unit="d"),
                *sources.fluids,
            ),
            notes=notes if regain.high_95 >= end_d else (),
        ),
    )


def _probabilities(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    yield EngineAnswer(
        key="intake_short_probability",
        value=estimate.intake_short_probability,
        working=sources.working(
            message(
                "share of the draws in which less energy is taken than a gain on the limit needs"
            ),
            *NEED,
            *sources.given,
            inputs=(_median(message("intake in all, median"), estimate.total_intake),),
            more=(limit_asked(sources.content, estimate),),
        ),
    )
    yield EngineAnswer(
        key="gain_below_limit_probability",
        value=estimate.gain_below_limit_probability,
        working=sources.working(
            message("share of the draws in which the gain is below the limit"),
            "gain_window_d",
            inputs=(_median(message("gain, median"), estimate.gain),),
            more=(limit_asked(sources.content, estimate),),
        ),
    )


def _late(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    late = estimate.not_regained_probability
    if late is not None and estimate.age_d < estimate.question.regain_day:
        yield EngineAnswer(
            key="not_regained_probability",
            value=late,
            working=sources.working(
                message("share of the draws in which the weight is below birth weight on that day"),
                "question_regain_day",
                *sources.excess,
                inputs=sources.fluids,
            ),
        )


def _weighing(estimate: Estimate, sources: _Sources) -> Iterator[EngineAnswer]:
    yield EngineAnswer(
        key="least_difference_g",
        value=estimate.next_weighing.least_difference_g,
        working=sources.working(
            message("1.96 x sqrt(2) x standard deviation of one weight on this scale"),
            "noise_physiological_g",
            "noise_scale_g",
            "noise_resolution_g",
            inputs=(
                Quantity(
                    name=message("standard deviation of one weight on this scale"),
                    value=estimate.next_weighing.least_difference_g / (QUANTILE_95 * math.sqrt(2)),
                    unit="g",
                ),
            ),
            notes=(message("How the weights of this family scatter is part of it."),),
        ),
    )
    if estimate.loss_centile is not None:
        yield EngineAnswer(
            key="standing",
            value=estimate.loss_centile.centile,
            working=sources.working(
                message(
                    "100 x share of the model's infants, of the same age in hours and mode of delivery and"
                    " weighed on the same scale, that have lost more"
                ),
                "noise_physiological_g",
                "noise_birth_weight_g",
                *sources.onset,
                *sources.excess_of_mode,
                "excess_d",
                "standing_until_d",
                inputs=(
                    Quantity(
                        name=message("change from birth weight"),
                        value=estimate.loss_centile.change_percent,
                        unit="%",
                    ),
                ),
                notes=(estimate.loss_centile.label,),
            ),
        )


def _median(name: Words, interval: Interval) -> Quantity:
    return Quantity(name=name, value=interval.median, unit=interval.unit)
