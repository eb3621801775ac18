"""Totals of published scores, which go with what was seen and decide nothing."""

from __future__ import annotations

from typing import Annotated, ClassVar
from uuid import UUID

from suffice.clinical.entry.field import Counted, Fact, Kind, Listed, OfContact, Written
from suffice.message import message


class Score(Fact, tag="score", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The total of a published score, with its numbers in the order of the published table.

    `points` is left out where somebody else's total is entered. No rule reads a score.
    """

    declared: ClassVar[Kind] = Kind(name=message("score"), title=message("Score"), about="either")

    score: Annotated[
        str,
        Listed(label=message("Which score"), vocabulary="scores", column="score|puntuacion"),
    ]
    total: Annotated[
        int,
        Counted(
            label=message("Total"),
            least_count=0,
            most_count=100,
            phrase=message("total {value}"),
            column="score total|total de la puntuacion",
        ),
    ]
    points: Annotated[
        str | None,
        Written(
            label=message("Its numbers in their order"),
            longest_characters=80,
            phrase=message("numbers {value}"),
            column="score points",
        ),
    ] = None
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None
