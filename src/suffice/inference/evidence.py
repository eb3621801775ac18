"""What is known of one infant at one instant, in the form the engine reads.

Everything but the age may be missing (``None`` or an empty tuple): missing means 'not known',
never zero and never 'no'. Ages are in days since birth and count from the instant of birth, so a
time zone never enters. The order of the tuples never matters. Every reading carries an `id` of
the caller's (an entry's id, say) by which the answer refers to it.
"""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from suffice.clinical.entry import Sex
from suffice.errors import InputError, Problem
from suffice.message import Message, message

Mode = Literal["vaginal", "assisted vaginal", "caesarean"]
Clothing = Literal["naked", "dry diaper", "clothed"]
DiaperKind = Literal["wet", "stool"]
DIAPERS: dict[DiaperKind, Message] = {"wet": message("wet"), "stool": message("stool")}


def _refused(code: str, what: Message, why: Message) -> InputError:
    """The refusal of a reading whose numbers cannot be computed with."""
    fix = message("Correct or leave out this reading.")
    return InputError(Problem(code=code, what=what, why=why, fix=fix))


def _finite(*values: float | None) -> bool:
    """Whether all values that are given are finite numbers."""
    return all(value is None or math.isfinite(value) for value in values)


class Scale(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one scale; leave a field None to use the population's assumption.

    Attributes:
        name: The scale's name as the weights give it.
        bias_g: Known error of its readings (reading minus truth), in g.
        bias_sd_g: How uncertain that bias is (SD, g).
        precision_sd_g: Repeatability of a weight on it (SD, g).
        resolution_g: Step of its display, in g.
    """

    name: str
    bias_g: float = 0.0
    bias_sd_g: float | None = None
    precision_sd_g: float | None = None
    resolution_g: float | None = None

    def __post_init__(self) -> None:
        given = (self.bias_g, self.bias_sd_g, self.precision_sd_g, self.resolution_g)
        usable = _finite(*given) and all(value is None or value >= 0 for value in given[1:])
        if not usable:
            raise _refused(
                "INFER-101",
                message(
                    "Scale '{scale}' has a number that is missing or negative.", scale=self.name
                ),
                message(
                    "Bias, precision and resolution are finite grams, and only the bias may be negative."
                ),
            )


class WeightReading(msgspec.Struct, frozen=True, kw_only=True):
    """One weight: `weight_g` in g at `age_d` days; `scale` names the scale or is None (unknown)."""

    id: str
    age_d: float
    weight_g: float
    scale: str | None = None
    clothing: Clothing | None = None

    def __post_init__(self) -> None:
        usable = _finite(self.age_d, self.weight_g) and self.weight_g > 0 and self.age_d >= 0
        if not usable:
            raise _refused(
                "INFER-102",
                message(
                    "Weight {weight} g at {age} days cannot be used.",
                    weight=str(self.weight_g),
                    age=str(self.age_d),
                ),
                message("A weight is above 0 g and is taken after birth."),
            )


class TestWeighing(msgspec.Struct, frozen=True, kw_only=True):
    """Milk taken at the breast by weighing before and after.

    Attributes:
        id: The caller's name of this reading.
        age_d: Age at the end of the (last) feed, days.
        transfer_g: Weight after minus weight before, summed over the feeds weighed, g; a small
            negative value is an honest result of a noisy scale.
        feeds_count: How many feeds the sum covers.
        whole_day: True when the sum covers every feed at the breast in the 24 h that end here.
        precision_sd_g: SD of one weighed transfer on this scale, g; None: the population's.
    """

    __test__ = False  # keeps pytest from collecting it

    id: str
    age_d: float
    transfer_g: float
    feeds_count: int = 1
    whole_day: bool = False
    precision_sd_g: float | None = None

    def __post_init__(self) -> None:
        usable = (
            _finite(self.age_d, self.transfer_g, self.precision_sd_g)
            and self.age_d >= 0
            and self.feeds_count >= 1
            and (self.precision_sd_g is None or self.precision_sd_g >= 0)
        )
        if not usable:
            raise _refused(
                "INFER-103",
                message(
                    "Test weighing of {transfer} g at {age} days cannot be used.",
                    transfer=str(self.transfer_g),
                    age=str(self.age_d),
                ),
                message(
                    "A test weighing covers at least one feed after birth and has a finite result."
                ),
            )


class MilkGiven(msgspec.Struct, frozen=True, kw_only=True):
    """Milk given other than at the breast: `volume_ml` mL at `age_d` days.

    `kcal_per_ml` None means the population's value. Expressed milk of the parent counts as given
    milk here, not as intake at the breast.
    """

    id: str
    age_d: float
    volume_ml: float
    milk: Literal["expressed", "donor", "formula"] = "formula"
    kcal_per_ml: float | None = None

    def __post_init__(self) -> None:
        usable = (
            _finite(self.age_d, self.volume_ml, self.kcal_per_ml)
            and self.age_d >= 0
            and self.volume_ml >= 0
            and (self.kcal_per_ml is None or self.kcal_per_ml >= 0)
        )
        if not usable:
            raise _refused(
                "INFER-104",
                message(
                    "Milk of {volume} mL at {age} days cannot be used.",
                    volume=str(self.volume_ml),
                    age=str(self.age_d),
                ),
                message("A volume is zero or more mL, given after birth."),
            )


class DiaperCount(msgspec.Struct, frozen=True, kw_only=True):
    """A count of wets or stools over the `span_d` days that end at `age_d` days; 0 = none seen."""

    id: str
    kind: DiaperKind
    age_d: float
    count: int
    span_d: float = 1.0

    def __post_init__(self) -> None:
        usable = (
            _finite(self.age_d, self.span_d)
            and self.age_d >= 0
            and self.count >= 0
            and self.span_d > 0
        )
        if not usable:
            raise _refused(
                "INFER-105",
                message(
                    "{count} {kind} diapers over {span} days cannot be used.",
                    count=self.count,
                    kind=DIAPERS[self.kind],
                    span=str(self.span_d),
                ),
                message("A count is zero or more over a span longer than nothing."),
            )


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """All that the engine may use for one infant as of `now_d` days of age.

    Attributes:
        now_d: Age at the instant of the question, days. Readings after it are not used.
        birth_weight_g: Measured birth weight, g.
        birth_scale: Name of the scale of the birth weight; None when unknown.
        sex: 'male' or 'female'.
        gestation_days: Completed days of gestation at birth.
        mode: Mode of delivery.
        intrapartum_fluids_ml: Intravenous fluids given to the parent before birth, mL.
        multiple_count: 1 a singleton, 2 a twin, and so on.
        illness: Short word for an illness noted by the clinicians; None when none is noted.
        feeds_per_day: Feeds at the breast per day as counted or reported now.
        weights: Weights after birth.
        test_weighings: Milk taken at the breast by weighing.
        milk_given: Supplements and expressed or donor milk given.
        unmeasured_milk_d: Ages, days, at which milk was given of which nobody wrote down how much.
        diapers: Counts of wets and stools.
        scales: What is known of the scales that the weights name.
    """

    now_d: float
    birth_weight_g: float | None = None
    birth_scale: str | None = None
    sex: Sex | None = None
    gestation_days: int | None = None
    mode: Mode | None = None
    intrapartum_fluids_ml: float | None = None
    multiple_count: int | None = None
    illness: str | None = None
    feeds_per_day: float | None = None
    weights: tuple[WeightReading, ...] = ()
    test_weighings: tuple[TestWeighing, ...] = ()
    milk_given: tuple[MilkGiven, ...] = ()
    unmeasured_milk_d: tuple[float, ...] = ()
    diapers: tuple[DiaperCount, ...] = ()
    scales: tuple[Scale, ...] = ()

    def __post_init__(self) -> None:
        given = (self.birth_weight_g, self.feeds_per_day)
        usable = (
            _finite(self.now_d, self.intrapartum_fluids_ml, *given, *self.unmeasured_milk_d)
            and self.now_d >= 0
            and all(value is None or value > 0 for value in given)
        )
        if not usable:
            raise _refused(
                "INFER-106",
                message(
                    "Evidence as of {age} days with birth weight {weight} g and {count} feeds a day"
                    " cannot be used.",
                    age=str(self.now_d),
                    weight=str(self.birth_weight_g),
                    count=str(self.feeds_per_day),
                ),
                message("Age is zero or more days; birth weight and feeds per day are above zero."),
            )
