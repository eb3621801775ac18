"""Body temperature, bilirubin, signs, and illnesses that the family's clinicians have named."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import (
    Answered,
    Chosen,
    Fact,
    Kind,
    Limits,
    Listed,
    Measured,
    Moment,
    Written,
)
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
        Literal["axilla", "rectum", "ear", "forehead", "strip"] | None,
        Chosen(
            label=message("Where"),
            choices=(
                ("axilla", message("axilla")),
                ("rectum", message("rectum")),
                ("ear", message("ear")),
                ("forehead", message("forehead")),
                ("strip", message("strip on the forehead")),
            ),
        ),
    ] = None


class Bilirubin(Fact, tag="bilirubin", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Bilirubin in the blood, or as a device reads it through the skin."""

    declared: ClassVar[Kind] = Kind(
        name=message("bilirubin"), title=message("Bilirubin"), basis="measured"
    )

    bilirubin_umol_per_l: Annotated[
        float,
        Measured(
            quantity="bilirubin",
            label=message("Bilirubin"),
            help=message("With its unit, for example 12.3 mg/dL or 210 µmol/L"),
            column="bilirubin|tsb|tcb|bilirrubina",
            limits=Limits(high=("bilirubin.doubtful_umol_per_l", "bilirubin.refused_umol_per_l")),
        ),
    ]
    method: Annotated[
        Literal["blood", "skin"] | None,
        Chosen(
            label=message("How"),
            choices=(("blood", message("blood")), ("skin", message("skin device"))),
            column="bilirubin method",
        ),
    ] = None
    under_light: Annotated[
        bool | None,
        Answered(
            label=message("Under light treatment?"),
            yes=message("under light treatment"),
            no=message("no light treatment"),
            column="light treatment|phototherapy|fototerapia",
        ),
    ] = None


class Sign(Fact, tag="sign", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something seen, heard or reported, present or absent; without an entry it was not asked."""

    declared: ClassVar[Kind] = Kind(name=message("sign"), title=message("Sign"), about="either")

    sign: Annotated[str, Listed(label=message("What"), vocabulary="signs", column="sign|signo")]
    present: Annotated[
        bool,
        Answered(
            label=message("Is it present?"),
            yes="",
            no=message("absent"),
            choices=(message("Present"), message("Absent")),
            column="sign present|present|presente",
        ),
    ]
    since: Annotated[
        datetime | None,
        Moment(
            label=message("Since when"),
            phrase=message("since {value}"),
            is_past=True,
            column="sign since|since|desde",
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


AnyOfBody = Temperature | Bilirubin | Sign | Illness
"""Every kind of this module."""
