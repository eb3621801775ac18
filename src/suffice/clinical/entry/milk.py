"""Milk that is kept: a container put by, and what was done with it since."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal
from uuid import UUID, uuid5

from suffice.clinical.entry.field import Chosen, Fact, Kept, Kind, Limits, Measured, Moment, Written
from suffice.clinical.entry.side import Side
from suffice.message import message


def feed_of(given_id: UUID) -> UUID:
    """Id of the feed that is put down together with milk that is given, from that of the milk."""
    return uuid5(given_id, "feed")


class MilkStored(Fact, tag="milk stored", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One container of milk for an infant: whose milk, how much, where it is kept, since when."""

    declared: ClassVar[Kind] = Kind(
        name=message("milk put by"), title=message("Milk put by"), when=message("Put there"),
    )  # fmt: skip

    milk: Annotated[
        Literal["expressed", "donor"],
        Chosen(
            label=message("Whose milk"),
            choices=(
                ("expressed", message("expressed milk")),
                ("donor", message("donor milk")),
            ),
        ),
    ]
    volume_ml: Annotated[
        float,
        Measured(
            quantity="volume",
            label=message("Volume"),
            limits=Limits(
                codes=("VOLUME-005", "VOLUME-006"),
                unit=message("mL in one container"),
                high=("feed_volume_doubtful_high_ml", "feed_volume_refused_high_ml"),
            ),
        ),
    ]
    place: Annotated[
        Literal["room", "fridge", "freezer", "cold box"],
        Chosen(
            label=message("Where it is kept"),
            choices=(
                ("room", message("in the room")),
                ("fridge", message("in the fridge")),
                ("freezer", message("in the freezer")),
                ("cold box", message("in a cold box")),
            ),
        ),
    ]
    expressed_at: Annotated[
        datetime | None,
        Moment(
            label=message("Expressed"),
            help=message("Leave it open where it was put there at once"),
            phrase=message("expressed {value}"),
            is_past=True,
        ),
    ] = None
    side: Annotated[
        Side | None,
        Chosen(
            label=message("Side"),
            choices=(
                ("left", message("left")),
                ("right", message("right")),
                ("both", message("both sides")),
            ),
        ),
    ] = None
    lot: Annotated[
        str | None,
        Written(
            label=message("Lot"),
            help=message("Of donor milk: the number of the bank"),
            longest_characters=40,
            phrase=message("lot {value}"),
        ),
    ] = None
    expires_at: Annotated[
        datetime | None,
        Moment(
            label=message("Expires"),
            help=message("Of donor milk: the date of the bank"),
            phrase=message("expires {value}"),
        ),
    ] = None


class MilkMoved(Fact, tag="milk moved", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was done with a container of milk: moved, thawed, warmed, used up or thrown out."""

    declared: ClassVar[Kind] = Kind(name=message("milk moved"), title=message("Milk moved"))

    milk_id: Annotated[UUID | None, Kept(label=message("Which container"))] = None
    to: Annotated[
        Literal[
            "fridge", "freezer", "cold box", "thawing", "thawed", "warmed", "used", "discarded"
        ],
        Chosen(
            label=message("What was done"),
            choices=(
                ("fridge", message("in the fridge")),
                ("freezer", message("in the freezer")),
                ("cold box", message("in a cold box")),
                ("thawing", message("taken out to thaw")),
                ("thawed", message("fully thawed")),
                ("warmed", message("warmed")),
                ("used", message("given")),
                ("discarded", message("thrown out")),
            ),
        ),
    ]
    second: Annotated[
        str | None,
        Written(
            label=message("Second person who read label and name band"),
            longest_characters=120,
            phrase=message("checked with {value}"),
        ),
    ] = None
