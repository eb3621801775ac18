"""Length and head circumference."""

from __future__ import annotations

from typing import Annotated, ClassVar

from suffice.clinical.entry.field import Fact, Kind, Limits, Measured, OneOf
from suffice.message import message


class Size(Fact, tag="size", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Length and head circumference, either alone or both."""

    declared: ClassVar[Kind] = Kind(
        name=message("length and head"),
        title=message("Length and head"),
        basis="measured",
        device=message("Device"),
        needs=OneOf(
            fields=("length_cm", "head_cm"),
            why=message("Neither length nor head circumference is written."),
            fix=message("Enter one of them."),
        ),
    )

    length_cm: Annotated[
        float | None,
        Measured(
            quantity="length",
            label=message("Length"),
            help=message("For example 50.5 or 19.9 in"),
            phrase=message("length {value}"),
            column="length|len|height|body length|talla|longitud",
            limits=Limits(
                codes=("LENGTH-001", "LENGTH-002"),
                unit=message("cm of length"),
                low=("length_refused_low_cm", "length_doubtful_low_cm"),
                high=("length_doubtful_high_cm", "length_refused_high_cm"),
            ),
        ),
    ] = None
    head_cm: Annotated[
        float | None,
        Measured(
            quantity="length",
            label=message("Head circumference"),
            help=message("For example 34.5"),
            phrase=message("head {value}"),
            column="head|head circumference|hc|ofc|perimetro cefalico",
            limits=Limits(
                codes=("LENGTH-003", "LENGTH-004"),
                unit=message("cm of head circumference"),
                low=("head_refused_low_cm", "head_doubtful_low_cm"),
                high=("head_doubtful_high_cm", "head_refused_high_cm"),
            ),
        ),
    ] = None
