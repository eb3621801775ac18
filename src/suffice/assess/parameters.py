"""The constants that the clinical functions need, gathered from the content in force."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar, TypeVar

import msgspec

from suffice.clinical.age import AgeParameters
from suffice.clinical.bilirubin import BilirubinLimits
from suffice.clinical.feed.event import EventLimits
from suffice.clinical.growth.assess_gain import VelocityParameters
from suffice.clinical.growth.centile_fall import CentileFallParameters
from suffice.clinical.growth.gain_line import GainLineParameters, GainLines, gain_lines
from suffice.clinical.growth.standard import GrowthStandards
from suffice.clinical.latch.mark import MarkLimits
from suffice.clinical.milk.feed_size import FeedSizeParameters, StomachParameters
from suffice.clinical.milk.known_intake import KnownIntakeParameters
from suffice.clinical.milk.observed_intake import IntakeNorms
from suffice.clinical.milk.requirement import EnergyParameters
from suffice.clinical.milk.test_weight import TestWeightParameters
from suffice.clinical.output import (
    LeafletNorm,
    ObservedMedians,
    OutputLimits,
    OutputNorm,
    TaughtNorm,
)
from suffice.clinical.output_count import OutputKind
from suffice.clinical.parameters import Parameters
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.reading.reading import ReadingLimits
from suffice.clinical.temperature import TemperatureLimits
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.weight.change import WeightChangeParameters
from suffice.clinical.weight.gain import GainParameters, GainRules
from suffice.clinical.weight.weighing import WeightNoise
from suffice.clinical.working import Constant
from suffice.inference.feed.model import FeedParameters
from suffice.inference.latch.model import LatchParameters
from suffice.knowledge.store import Content
from suffice.knowledge.tables import growth_standards

AGroup = TypeVar("AGroup", bound=Parameters)


class Horizons(Parameters, frozen=True, kw_only=True):
    """How old what is known of an infant may be for it to be settled."""

    topic: ClassVar[str] = "follow_up"

    first_week_until_d: Constant
    second_week_until_d: Constant
    newborn_until_d: Constant
    older_from_age_d: Constant
    regained_from_age_h: Constant
    first_week_h: Constant
    weight_first_week_h: Constant
    weight_second_week_d: Constant
    weight_unregained_d: Constant
    weight_young_d: Constant
    weight_older_d: Constant


class FeedLimits(Parameters, frozen=True, kw_only=True):
    """When feeds that were written down are the feeds of a day."""

    topic: ClassVar[str] = "feeding"

    feeds_count_per_day: Constant
    """So many that are certain are enough, though more may be missing."""
    longest_gap_h: Constant
    """The longest stretch without a feed in a day that is taken for fully written down."""
    one_feed_minutes: Constant
    """How close to the one before an entry may be part of the same feed."""
    timed_feeds_count: Constant
    """How many feeds must have been timed for 'always' to be said."""
    stands_h: Constant
    """How long a count of feeds stands."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CareParameters:
    """Every group of constants, filled from one content, and the growth standards."""

    age: AgeParameters
    noise: WeightNoise
    older_noise: WeightNoise
    """The same of older infants, whose weights waver more."""
    older_from: Constant
    older_whole_from: Constant
    """From `older_from` to this age the noise rises in a straight line."""
    weight_change: WeightChangeParameters
    gain: GainParameters
    gain_rules: GainRules
    gain_line: GainLineParameters
    gain_lines: GainLines
    """The lines of gain by age and sex, by the shares that `gain_line` asks."""
    centile_fall: CentileFallParameters
    velocity: VelocityParameters
    energy: EnergyParameters
    intake: IntakeNorms
    test_weight: TestWeightParameters
    known_intake: KnownIntakeParameters
    feed_size: FeedSizeParameters
    stomach: StomachParameters
    output: OutputLimits
    feeding: FeedLimits
    output_norms: dict[OutputKind, OutputNorm]
    """The norm that the clinic chose for wets, and for stools."""
    temperature: TemperatureLimits
    bilirubin: BilirubinLimits
    breast_red_h: Constant
    """How long the consultant watches a red breast before a physician sees it."""
    breast_lump_h: Constant
    """The same of a lump of which it is known when it began."""
    felt_measured_h: Constant
    """How soon a thermometer answers what a hand felt."""
    parent_six_weeks_d: Constant
    """The weeks after birth, in which a fever of the parent is more."""
    horizons: Horizons
    plausibility: PlausibilityLimits
    reading: ReadingLimits
    watched_feed: FeedParameters
    watched_feed_limits: EventLimits
    latch_photograph: LatchParameters
    mark_limits: MarkLimits
    standards: GrowthStandards


@lru_cache(maxsize=8)
def parameters_of(content: Content) -> CareParameters:
    """The parameters of a content; kept, because gathering them takes milliseconds.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing.
    """

    def group(kind: type[AGroup]) -> AGroup:
        return kind.from_content(content.flat, content.series)

    standards = growth_standards()
    line = group(GainLineParameters)
    return CareParameters(
        age=group(AgeParameters),
        noise=group(WeightNoise),
        older_noise=_older(group(WeightNoise), content),
        older_from=content.constant("weight_noise.older_from_age_d"),
        older_whole_from=content.constant("weight_noise.older_whole_from_age_d"),
        weight_change=group(WeightChangeParameters),
        gain=group(GainParameters),
        gain_rules=group(GainRules),
        gain_line=line,
        gain_lines=gain_lines(standards.velocity, standards.increments, line),
        centile_fall=group(CentileFallParameters),
        velocity=group(VelocityParameters),
        energy=group(EnergyParameters),
        intake=group(IntakeNorms),
        test_weight=group(TestWeightParameters),
        known_intake=group(KnownIntakeParameters),
        feed_size=group(FeedSizeParameters),
        stomach=group(StomachParameters),
        output=group(OutputLimits),
        feeding=group(FeedLimits),
        output_norms={
            "wet": group(_norm_of(content.chosen("wets_norm"))),
            "stool": group(_norm_of(content.chosen("stools_norm"))),
        },
        temperature=group(TemperatureLimits),
        bilirubin=group(BilirubinLimits),
        breast_red_h=content.constant("sign.breast_red_h"),
        breast_lump_h=content.constant("sign.breast_lump_h"),
        felt_measured_h=content.constant("sign.felt_measured_h"),
        parent_six_weeks_d=content.constant("sign.parent_six_weeks_d"),
        horizons=group(Horizons),
        plausibility=group(PlausibilityLimits),
        reading=group(ReadingLimits),
        watched_feed=group(FeedParameters),
        watched_feed_limits=group(EventLimits),
        latch_photograph=group(LatchParameters),
        mark_limits=group(MarkLimits),
        standards=standards,
    )


def _norm_of(key: str) -> type[OutputNorm]:
    """The norm to which a chosen key belongs."""
    topic = key.partition(".")[0]
    norms: tuple[type[OutputNorm], ...] = (LeafletNorm, TaughtNorm, ObservedMedians)
    return next(norm for norm in norms if norm.topic == topic)


def _older(noise: WeightNoise, content: Content) -> WeightNoise:
    """The noise of older infants; where weights were not controlled it is never the smaller one."""
    older = content.constant("weight_noise.older_infant_sd_g")
    careless = max(noise.uncontrolled_sd_g, older, key=lambda constant: constant.value)
    return msgspec.structs.replace(noise, within_infant_sd_g=older, uncontrolled_sd_g=careless)


def noise_at(parameters: CareParameters, age_h: float) -> WeightNoise:
    """The noise of a weight at an age: from the young infant's to the older one's without a step."""
    start_h, whole_h = (
        parameters.older_from.value * HOURS_PER_DAY,
        parameters.older_whole_from.value * HOURS_PER_DAY,
    )
    share = min(max((age_h - start_h) / max(whole_h - start_h, HOURS_PER_DAY), 0.0), 1.0)
    young, old = parameters.noise, parameters.older_noise
    if share in {0.0, 1.0}:
        return old if share else young

    def mixed(first: Constant, last: Constant) -> Constant:
        value = first.value + share * (last.value - first.value)
        return msgspec.structs.replace(last, value=value)

    return msgspec.structs.replace(
        young,
        within_infant_sd_g=mixed(young.within_infant_sd_g, old.within_infant_sd_g),
        uncontrolled_sd_g=mixed(young.uncontrolled_sd_g, old.uncontrolled_sd_g),
    )
