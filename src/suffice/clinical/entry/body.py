"""Body temperature, and illnesses that the family's clinicians have named."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Answered, Chosen, Fact, Kind, Limits, Measured, Written
from suffice.message import message


class Temperature(Fact, tag="temperature", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A body temperature."""

    declared: ClassVar[Kind] = Kind(
        name=message("temperature"),
        title=message("Temperature"),
        about="either",
        basis="measured",
        device=message("Device"),
    )

    temperature_c: Annotated[
        float,
        Measured(
            quantity="temperature",
            label=message("Temperature"),
            help=message("For example 36.8 or 98.2F"),
            column="temperature|temp|body temperature|temperatura",
            limits=Limits(
                codes=("TEMPERATURE-001", "TEMPERATURE-002"),
                unit=message("°C"),
                low=("temperature_refused_low_c", "temperature_doubtful_low_c"),
                high=("temperature_doubtful_high_c", "temperature_refused_high_c"),
                slip="fahrenheit",
            ),
        ),
    ]
    site: Annotated[
        Literal["axilla", "rectum", "ear", "forehead"] | None,
        Chosen(
            label=message("Where"),
            choices=(
                ("axilla", message("axilla")),
                ("rectum", message("rectum")),
                ("ear", message("ear")),
                ("forehead", message("forehead")),
            ),
        ),
    ] = None


class Illness(Fact, tag="illness", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An illness that the family's clinicians have named, or its end."""

    declared: ClassVar[Kind] = Kind(
        name=message("illness"), title=message("Illness"), about="either", basis="reported"
    )

    what: Annotated[
        str,
        Written(
            label=message("What"),
            help=message("As the family's clinicians have named it"),
            longest_characters=200,
        ),
    ]
    present: Annotated[
        bool,
        Answered(
            label=message("Is it present?"),
            yes="",
            no=message("over"),
            choices=(message("Present"), message("Over")),
        ),
    ] = True


AnyOfBody = Temperature | Illness
"""Every kind of this module."""
