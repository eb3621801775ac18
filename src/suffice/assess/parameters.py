"""The constants that the clinical functions need, gathered from the content in force."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar, TypeVar

import msgspec

from suffice.clinical.age import AgeParameters
from suffice.clinical.growth.assess_gain import VelocityParameters
from suffice.clinical.growth.centile_fall import CentileFallParameters
from suffice.clinical.growth.standard import GrowthStandards
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
from suffice.clinical.weight.change import WeightChangeParameters
from suffice.clinical.weight.gain import GainParameters
from suffice.clinical.weight.weighing import WeightNoise
from suffice.clinical.working import Constant
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


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CareParameters:
    """Every group of constants, filled from one content, and the growth standards."""

    age: AgeParameters
    noise: WeightNoise
    older_noise: WeightNoise
    """The same from `older_from` on: weights of older infants waver more."""
    older_from: Constant
    weight_change: WeightChangeParameters
    gain: GainParameters
    centile_fall: CentileFallParameters
    velocity: VelocityParameters
    energy: EnergyParameters
    intake: IntakeNorms
    test_weight: TestWeightParameters
    known_intake: KnownIntakeParameters
    feed_size: FeedSizeParameters
    stomach: StomachParameters
    output: OutputLimits
    output_norms: dict[OutputKind, OutputNorm]
    """The norm that the clinic chose for wets, and for stools."""
    temperature: TemperatureLimits
    breast_red_h: Constant
    """How long the consultant watches a red breast before a physician sees it."""
    parent_six_weeks_d: Constant
    """The weeks after birth, in which a fever of the parent is more."""
    horizons: Horizons
    plausibility: PlausibilityLimits
    reading: ReadingLimits
    standards: GrowthStandards


@lru_cache(maxsize=8)
def parameters_of(content: Content) -> CareParameters:
    """The parameters of a content; kept, because gathering them takes milliseconds.

    Raises:
        ContentError: CONTENT-020 for each constant that is missing.
    """

    def group(kind: type[AGroup]) -> AGroup:
        return kind.from_content(content.flat, content.series)

    return CareParameters(
        age=group(AgeParameters),
        noise=group(WeightNoise),
        older_noise=_older(group(WeightNoise), content),
        older_from=content.constant("weight_noise.older_from_age_d"),
        weight_change=group(WeightChangeParameters),
        gain=group(GainParameters),
        centile_fall=group(CentileFallParameters),
        velocity=group(VelocityParameters),
        energy=group(EnergyParameters),
        intake=group(IntakeNorms),
        test_weight=group(TestWeightParameters),
        known_intake=group(KnownIntakeParameters),
        feed_size=group(FeedSizeParameters),
        stomach=group(StomachParameters),
        output=group(OutputLimits),
        output_norms={
            "wet": group(_norm_of(content.chosen("wets_norm"))),
            "stool": group(_norm_of(content.chosen("stools_norm"))),
        },
        temperature=group(TemperatureLimits),
        breast_red_h=content.constant("sign.breast_red_h"),
        parent_six_weeks_d=content.constant("sign.parent_six_weeks_d"),
        horizons=group(Horizons),
        plausibility=group(PlausibilityLimits),
        reading=group(ReadingLimits),
        standards=growth_standards(),
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
