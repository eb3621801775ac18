"""What a physician knows of already and looks after."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Chosen, Fact, Kind, Moment, OfFlag, Written
from suffice.message import message


class Known(Fact, tag="known", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A flag is known to a physician since then; it is a note until the next date."""

    declared: ClassVar[Kind] = Kind(
        name=message("known to a physician"), title=message("Known to a physician"),
        about="either", basis="reported", when=message("Known since"),
    )  # fmt: skip

    flag: Annotated[str, OfFlag(label=message("What is known"), column="known flag")]
    who: Annotated[
        Literal["physician", "hospital"],
        Chosen(
            label=message("Known to"),
            help=message("An emergency only counts as known while a hospital treats it"),
            choices=(("physician", message("physician")), ("hospital", message("hospital"))),
            phrase=message("known to: {value}"),
            column="known to|conocido por",
        ),
    ]
    name: Annotated[
        str | None,
        Written(label=message("Name"), longest_characters=120, column="known to whom"),
    ] = None
    next_at: Annotated[
        datetime | None,
        Moment(
            label=message("Next date"),
            help=message("When they look again: until then it is a note"),
            phrase=message("next date {value}"),
        ),
    ] = None
