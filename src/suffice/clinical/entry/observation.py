"""What was seen, heard, measured or asked at a contact, by the vocabulary of observations."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, ClassVar, Final
from uuid import UUID

import msgspec

from suffice.clinical.entry.field import (
    Fact,
    Kind,
    Listed,
    Moment,
    OfContact,
    OfWord,
)
from suffice.clinical.entry.side import SIDE, Side
from suffice.message import message

OF_SIDE: Final = msgspec.structs.replace(SIDE, column="observed side|lado observado")
BETWEEN: Final = "|"
"""Stands between the choices of an answer of several."""


class Observation(Fact, tag="observation", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something of the vocabulary that was looked at or asked; without an answer it was left open.

    `answer` is yes or no, the key of a choice, the keys of several choices with '|' between them, a
    number in the unit that the vocabulary names, or a text, from which no rule reads anything. An answer that the vocabulary does not know stays on
    the record and is shown as it stands.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("observation"), title=message("Observation"), about="either"
    )

    what: Annotated[
        str,
        Listed(label=message("What"), vocabulary="observations", column="observation|observacion"),
    ]
    answer: Annotated[
        str | None,
        OfWord(
            label=message("What was found"),
            help=message("Leave it empty where it was not asked or could not be seen"),
            word="what",
            longest_characters=200,
            column="observed|observado",
        ),
    ] = None
    side: Annotated[Side | None, OF_SIDE] = None
    since: Annotated[
        datetime | None,
        Moment(
            label=message("Since when"),
            phrase=message("since {value}"),
            is_past=True,
            column="observed since",
        ),
    ] = None
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None

    @property
    def answers(self) -> tuple[str, ...]:
        """The answer, or each of several; none where it was left open."""
        return tuple((self.answer or "").split(BETWEEN)) if self.answer else ()

    @property
    def number(self) -> float | None:
        """The answer as a finite number; None where it was left open, or is something else."""
        try:
            value = float(self.answer or "")
        except ValueError:
            return None
        return value if math.isfinite(value) else None
