"""Limits of the possible and of the likely, as the content store holds them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import ClassVar, Final

from suffice.clinical.entry import KINDS, Fact
from suffice.clinical.entry.field import Counted, Measured, fields_of
from suffice.clinical.parameters import ConstantSeries, NamedParameters
from suffice.clinical.working import Constant

CLOTHES_G: Final = "population.clothes_g"
"""Key of what clothes weigh."""


class PlausibilityLimits(NamedParameters, frozen=True, kw_only=True):
    """Limits of the possible (refused) and of the likely (doubtful)."""

    topic: ClassVar[str] = "plausibility"

    birth_weight_refused_low_g: Constant
    birth_weight_doubtful_low_g: Constant
    birth_weight_doubtful_high_g: Constant
    birth_weight_refused_high_g: Constant
    weight_refused_low_g: ConstantSeries
    weight_doubtful_low_g: ConstantSeries
    weight_doubtful_high_g: ConstantSeries
    weight_refused_high_g: ConstantSeries
    gain_doubtful_low_g_per_day: Constant
    gain_doubtful_high_g_per_day: Constant
    change_doubtful_g: Constant
    loss_doubtful_percent: Constant
    loss_refused_percent: Constant
    gestation_refused_low_d: Constant
    gestation_doubtful_low_d: Constant
    gestation_doubtful_high_d: Constant
    gestation_refused_high_d: Constant
    temperature_refused_low_c: Constant
    temperature_doubtful_low_c: Constant
    temperature_doubtful_high_c: Constant
    temperature_refused_high_c: Constant
    feed_volume_doubtful_high_ml: Constant
    feed_volume_refused_high_ml: Constant
    expression_volume_doubtful_high_ml: Constant
    expression_volume_refused_high_ml: Constant
    test_weight_transfer_refused_low_g: Constant
    test_weight_transfer_doubtful_low_g: Constant
    test_weight_transfer_doubtful_high_g: Constant
    test_weight_transfer_refused_high_g: Constant
    feed_doubtful_high_minutes: Constant
    feed_refused_high_minutes: Constant
    expression_doubtful_high_minutes: Constant
    expression_refused_high_minutes: Constant
    interval_doubtful_high_h: Constant
    interval_refused_high_h: Constant
    wets_doubtful_high_count_per_day: Constant
    wets_refused_high_count_per_day: Constant
    stools_doubtful_high_count_per_day: Constant
    stools_refused_high_count_per_day: Constant
    length_refused_low_cm: Constant
    length_doubtful_low_cm: Constant
    length_doubtful_high_cm: Constant
    length_refused_high_cm: Constant
    head_refused_low_cm: Constant
    head_doubtful_low_cm: Constant
    head_doubtful_high_cm: Constant
    head_refused_high_cm: Constant
    fluids_doubtful_high_ml: Constant
    fluids_refused_high_ml: Constant
    multiple_doubtful_count: Constant
    multiple_refused_count: Constant
    future_refused_h: Constant
    entered_late_doubtful_d: Constant

    @classmethod
    def names(cls) -> Iterable[str]:
        """What clothes weigh, and what the declarations of fields ask for by whole keys, each once."""
        every = (key for kind in KINDS.values() for key in _keys_of(kind) if "." in key)
        return dict.fromkeys((CLOTHES_G, *every))


def _keys_of(kind: type[Fact]) -> Iterator[str]:
    for field in fields_of(kind).values():
        limits = field.limits if isinstance(field, Measured | Counted) else None
        if limits is not None:
            yield from (*limits.high, *(limits.low or ()))
