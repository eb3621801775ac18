"""What a growth standard is: tables by sex, curves by age, and where they come from.

Nothing here computes a score; the arrays are laid out so that the modules beside this one can.
Index 0 of every array by sex is female, index 1 male. Arrays are read-only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from suffice.clinical.entry import Sex
from suffice.clinical.working import SourceBasis
from suffice.message import Message, message

Measure = Literal["weight", "length", "head"]
StandardName = Literal["WHO", "INTERGROWTH-21st postnatal"]
Floats = NDArray[np.float64]

FEMALE = 0
MALE = 1
UNIT_OF: dict[Measure, str] = {"weight": "g", "length": "cm", "head": "cm"}
STANDARDS: Final[Mapping[str, Message]] = {
    "WHO": message("WHO"),
    "INTERGROWTH-21st newborn": message("INTERGROWTH-21st newborn size"),
    "INTERGROWTH-21st postnatal": message("INTERGROWTH-21st postnatal"),
}
"""What a standard is called."""
NAME_OF: dict[Measure, str] = {
    "weight": "weight",
    "length": "length",
    "head": "head circumference",
}
SEXES: Final[Mapping[Sex | None, Message]] = {
    "male": message("boys"),
    "female": message("girls"),
    None: message("sex not known"),
}
"""What the tables of a sex are called."""
MEASURE_NAMES: dict[Measure, Message] = {
    "weight": message("weight"),
    "length": message("length"),
    "head": message("head circumference"),
}
"""What a measure is called in a sentence."""


class TableSource(msgspec.Struct, frozen=True, kw_only=True):
    """Where a table comes from, as its sidecar in the content store says.

    Attributes:
        key: Name of the table, unique.
        title: What it holds.
        source: Short citation.
        doi: One or more, or empty.
        basis: How far it can be trusted.
        read_in: In what the figures were read.
        read_on: Day on which they were read, ISO 8601.
        licence: What is known of the terms.
        remark: What its reader must know; goes into every working.
        sha256: Checksum of the table; empty where the sidecar itself holds the figures.
    """

    key: str
    title: str
    source: str
    doi: str
    basis: SourceBasis
    read_in: str
    read_on: str
    licence: str
    remark: str
    sha256: str = ""

    @property
    def note(self) -> Message:
        """The remark as the note of a working; it is in the catalogue as the content has it."""
        return Message(template=self.remark.replace("{", "{{").replace("}", "}}"))


def frozen_array(values: Floats) -> Floats:
    """A contiguous, read-only copy."""
    copy = np.array(values, dtype=np.float64, order="C")
    copy.setflags(write=False)
    return copy


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LmsTable:
    """Median, coefficient of variation and skewness (Box-Cox power) at equal steps, by sex.

    Attributes:
        source: Where the figures come from.
        measure: What is scored.
        first: Position of the first column: a day of age, or a length in mm.
        median: Shape (2, n), in g or cm.
        cv: Shape (2, n).
        skew: Shape (2, n).
        outer_z: Beyond +-`outer_z` a score grows in a straight line; None where it does not.
        flag_z: Lowest and highest score that the publisher accepts without a check.
    """

    source: TableSource
    measure: Measure
    first: int
    median: Floats
    cv: Floats
    skew: Floats
    outer_z: float | None
    flag_z: tuple[float, float]
    is_linear: bool = field(init=False)
    log_median: Floats = field(init=False)
    inverse_spread: Floats = field(init=False)

    def __post_init__(self) -> None:
        shapes = {self.median.shape, self.cv.shape, self.skew.shape}
        if len(shapes) != 1 or self.median.ndim != 2 or self.median.shape[0] != 2:
            raise ValueError("median, cv and skew need one shape (2, n)")
        if not (np.all(self.median > 0) and np.all(self.cv > 0) and np.all(self.skew != 0)):
            raise ValueError("median and cv must be above 0, skew other than 0")
        # Worked out once so that scoring a million rows needs three gathers and no division.
        spread = self.skew * self.cv
        is_linear = bool(np.all(self.skew == 1))
        scale = self.median * self.cv if is_linear else spread
        object.__setattr__(self, "is_linear", is_linear)
        object.__setattr__(self, "log_median", frozen_array(np.log(self.median)))
        object.__setattr__(self, "inverse_spread", frozen_array(1 / scale))

    @property
    def size(self) -> int:
        """Number of positions per sex."""
        return int(self.median.shape[1])

    @property
    def last(self) -> int:
        """Position of the last column."""
        return self.first + self.size - 1

    def at(self, is_male: bool, position: int) -> tuple[float, float, float]:
        """Median, cv and skew at one whole position."""
        column = position - self.first
        row = MALE if is_male else FEMALE
        return (
            float(self.median[row, column]),
            float(self.cv[row, column]),
            float(self.skew[row, column]),
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WhoStandard:
    """The WHO Child Growth Standards, birth to 730 days: a table a measure, and weight-for-length."""

    by_age: dict[Measure, LmsTable]
    weight_for_length: LmsTable


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class VelocityStandard:
    """WHO weight gain over fixed intervals of 1 and 2 months.

    Attributes:
        source: Where the figures come from.
        start_day: Shape (n,): day on which each interval begins.
        end_day: Shape (n,): day on which it ends.
        months: Shape (n,): 1 or 2.
        shift_g: Shape (n,): added to a gain before it is scored.
        shifted_median_g: Shape (2, n): median of gain + shift.
        cv: Shape (2, n).
        skew: Shape (2, n).
    """

    source: TableSource
    start_day: NDArray[np.int64]
    end_day: NDArray[np.int64]
    months: NDArray[np.int64]
    shift_g: Floats
    shifted_median_g: Floats
    cv: Floats
    skew: Floats


class IncrementRow(msgspec.Struct, frozen=True, kw_only=True):
    """Empirical centiles of gain over one interval in one group of birth weight.

    `from_g` and `below_g` are None where the group is open at that end, both None for all infants.
    A centile without a figure (too few children) is absent from `gain_g` and `gain_g_per_day`.
    """

    is_male: bool
    start_day: int
    end_day: int
    from_g: float | None
    below_g: float | None
    children: int
    gain_g: dict[int, float]
    gain_g_per_day: dict[int, float]


class IncrementStandard(msgspec.Struct, frozen=True, kw_only=True):
    """WHO weight gain by birth weight, birth to 60 days; `centiles` in rising order."""

    source: TableSource
    centiles: tuple[int, ...]
    rows: tuple[IncrementRow, ...]


class Terms(msgspec.Struct, frozen=True, kw_only=True):
    """Coefficients of one published curve in weeks x.

    constant + root sqrt(x) + linear x + inverse / x + inverse_square / x^2
    + log_inverse_square ln(x) / x^2 + male (added for a boy).
    """

    constant: float = 0.0
    root: float = 0.0
    linear: float = 0.0
    inverse: float = 0.0
    inverse_square: float = 0.0
    log_inverse_square: float = 0.0
    male: float = 0.0


class NormalCurve(msgspec.Struct, frozen=True, kw_only=True):
    """A measure, or its logarithm, that is normal at each age.

    With `is_log` the mean is of the logarithm in units of g or cm.
    """

    mean: Terms
    sd: Terms
    is_log: bool


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SkewTTable:
    """Skew-t type 3 by whole day of gestation and sex.

    Attributes:
        first: First day.
        mode: Shape (2, n), in g or cm.
        scale: Shape (2, n), in g or cm.
        asymmetry: Shape (2,).
        degrees_of_freedom: Shape (2,).
    """

    first: int
    mode: Floats
    scale: Floats
    asymmetry: Floats
    degrees_of_freedom: Floats

    @property
    def last(self) -> int:
        """Last day."""
        return self.first + int(self.mode.shape[1]) - 1


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NewbornStandard:
    """INTERGROWTH-21st size at birth: equations up to the first day of the table, then the table."""

    source: TableSource
    first_day: int
    early: dict[Measure, NormalCurve]
    late: dict[Measure, SkewTTable]

    @property
    def last_day(self) -> int:
        """Last day of gestation that the standard covers."""
        return self.late["weight"].last


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PostnatalStandard:
    """INTERGROWTH-21st growth of infants born preterm, by days of postmenstrual age, both ends in."""

    source: TableSource
    first_day: int
    last_day: int
    curves: dict[Measure, NormalCurve]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GrowthStandards:
    """All growth standards that the content store holds."""

    who: WhoStandard
    velocity: VelocityStandard
    increments: IncrementStandard
    intergrowth_newborn: NewbornStandard
    intergrowth_postnatal: PostnatalStandard

    @property
    def sources(self) -> tuple[TableSource, ...]:
        """The source of each table, once."""
        sources = (
            *(table.source for table in self.who.by_age.values()),
            self.who.weight_for_length.source,
            self.velocity.source,
            self.increments.source,
            self.intergrowth_newborn.source,
            self.intergrowth_postnatal.source,
        )
        return tuple({source.key: source for source in sources}.values())
