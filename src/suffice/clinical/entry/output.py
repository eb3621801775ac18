"""Wet diapers and stools."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import msgspec

from suffice.clinical.entry.field import Answered, Chosen, Counted, Fact, Kind, Measured
from suffice.message import message

MOST_COUNT = 999
"""What a form takes; how many can be is asked of the content, for a day: `clinical.plausibility`."""
WETS = Counted(
    label=message("How many"),
    help=message("1 for one diaper now; 0 when none was seen in the hours below"),
    least_count=0,
    most_count=MOST_COUNT,
    column="wets|wet|wet diapers|wet nappies|urine|panales mojados|orina",
)
STOOLS = msgspec.structs.replace(
    WETS, column="stools|stool|stools count|dirty diapers|dirty nappies|soiled|deposiciones"
)
HOURS = Measured(
    quantity="hours",
    label=message("In the last … hours"),
    help=message("Leave empty for one diaper now; 24 for a day's count"),
    phrase=message("in {value} h"),
    least_h=0.5,
    most_h=168,
)


class Wet(Fact, tag="wet", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Wet diapers: one at `true_at`, or `count` in the `over_h` hours that end there."""

    declared: ClassVar[Kind] = Kind(
        name=message("wet diapers"), title=message("Wet diapers"), basis="reported"
    )

    count: Annotated[int, WETS] = 1
    over_h: Annotated[float | None, HOURS] = None
    urates: Annotated[
        bool | None,
        Answered(
            label=message("Pink or orange stain (urates)?"),
            yes=message("pink or orange stain"),
            no=message("no stain"),
        ),
    ] = None
    """Pink or orange (urate) stain seen."""


class Stool(Fact, tag="stool", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Stools: one at `true_at`, or `count` in the `over_h` hours that end there (0 = none seen)."""

    declared: ClassVar[Kind] = Kind(
        name=message("stools"), title=message("Stools"), basis="reported"
    )

    count: Annotated[int, STOOLS] = 1
    over_h: Annotated[float | None, HOURS] = None
    colour: Annotated[
        Literal["black", "green", "brown", "yellow", "pale", "red"] | None,
        Chosen(
            label=message("Colour"),
            column="stool colour|stool color|colour|color",
            choices=(
                ("black", message("black")),
                ("green", message("green")),
                ("brown", message("brown")),
                ("yellow", message("yellow")),
                ("pale", message("pale")),
                ("red", message("red")),
            ),
        ),
    ] = None
    amount: Annotated[
        Literal["smear", "small", "large"] | None,
        Chosen(
            label=message("Amount"),
            choices=(
                ("smear", message("smear")),
                ("small", message("small")),
                ("large", message("large")),
            ),
        ),
    ] = None
