"""Handing over what was found to somebody who must act on it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Final, Literal

from suffice.clinical.entry.field import Chosen, Fact, Kind, Moment, OfFlag, Written
from suffice.message import message

RECIPIENTS: Final = (
    ("emergency service", message("emergency service")),
    ("hospital", message("hospital")),
    ("physician", message("physician")),
    ("midwife", message("midwife")),
    ("consultant", message("consultant")),
    ("other", message("another clinician")),
)
"""To whom something can be handed over."""


class Handover(Fact, tag="handover", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Somebody was told of a flag and asked to act; it stays open until an answer is entered."""

    declared: ClassVar[Kind] = Kind(
        name=message("handover"), title=message("Handover"), about="either",
        basis="reported", when=message("Handed over"),
    )  # fmt: skip

    flag: Annotated[
        str | None,
        OfFlag(
            label=message("What was handed over"),
            help=message("Leave it open for everything that is flagged now"),
            phrase=message("about {value}"),
            none=message("everything that is flagged now"),
            column="handed over flag",
        ),
    ] = None
    to: Annotated[
        Literal["emergency service", "hospital", "physician", "midwife", "consultant", "other"],
        Chosen(
            label=message("To whom"),
            choices=RECIPIENTS,
            phrase=message("to: {value}"),
            column="handed over to|entregado a",
        ),
    ]
    name: Annotated[
        str | None,
        Written(
            label=message("Name"),
            help=message("Who took it over"),
            longest_characters=120,
            column="handed over to whom",
        ),
    ] = None
    how: Annotated[
        Literal["phone", "in person", "message", "letter"] | None,
        Chosen(
            label=message("How"),
            choices=(
                ("phone", message("phone")),
                ("in person", message("in person")),
                ("message", message("message")),
                ("letter", message("letter")),
            ),
            phrase=message("by: {value}"),
            column="handed over how",
        ),
    ] = None
    asked: Annotated[
        str | None,
        Written(
            label=message("What was asked"),
            help=message("For example: see her today; bilirubin and weight"),
            longest_characters=500,
            phrase=message("asked: {value}"),
            column="handed over asked",
        ),
    ] = None
    answer_by: Annotated[
        datetime | None,
        Moment(
            label=message("Answer expected by"),
            help=message("Leave it empty for the usual time of this urgency"),
            phrase=message("answer by {value}"),
        ),
    ] = None

    @property
    def is_to_physician(self) -> bool:
        """Whether only a physician's answer closes it."""
        return self.to in {"emergency service", "hospital", "physician"}
