"""What a clinician answered who was called or who has seen the infant or the parent."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Chosen, Fact, Kind, OfFlag, Written
from suffice.message import message


class Answer(Fact, tag="answer", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a clinician found and advised; a physician's ends the flags that only an answer ends."""

    declared: ClassVar[Kind] = Kind(
        name=message("answer"), title=message("Answer of a clinician"), about="either",
        basis="reported", when=message("Seen or answered"),
    )  # fmt: skip

    flag: Annotated[
        str | None,
        OfFlag(
            label=message("What was answered"),
            help=message("Leave it open where everything up to then was answered"),
            phrase=message("about {value}"),
            none=message("everything up to then"),
        ),
    ] = None
    who: Annotated[
        Literal["physician", "hospital", "midwife", "other"],
        Chosen(
            label=message("Who answered"),
            choices=(
                ("physician", message("physician")),
                ("hospital", message("hospital")),
                ("midwife", message("midwife")),
                ("other", message("another clinician")),
            ),
        ),
    ]
    found: Annotated[
        str,
        Written(
            label=message("What they found and advised"),
            help=message("For example: seen, ear infection, antibiotic, back on Friday"),
            longest_characters=500,
            is_long=True,
        ),
    ]

    @property
    def is_of_physician(self) -> bool:
        """Whether it ends a flag: flags of this kind belong to a physician."""
        return self.who in {"physician", "hospital"}
