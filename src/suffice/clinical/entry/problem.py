"""What the consultant decided of a problem, beside what the program had proposed."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal
from uuid import UUID

from suffice.clinical.entry.field import Chosen, Fact, Kind, Listed, OfContact, Written
from suffice.message import message


class ProblemStatus(Fact, tag="problem", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A problem is open, better or resolved (kept as `settled`), or is none of this family's; her decision, not the program's.

    `proposed` is how far the program had it supported when she decided.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("problem"), title=message("Problem"), about="either"
    )

    problem: Annotated[str, Listed(label=message("Problem"), vocabulary="problems")]
    status: Annotated[
        Literal["open", "better", "settled", "not so"],
        Chosen(
            label=message("How is it now?"),
            choices=(
                ("open", message("open")),
                ("better", message("better")),
                ("settled", message("resolved")),
                ("not so", message("not this problem")),
            ),
        ),
    ]
    why: Annotated[
        str | None,
        Written(label=message("Why, in a word"), longest_characters=500),
    ] = None
    proposed: Annotated[
        Literal["strong", "supported", "open", "against", "excluded"] | None,
        Chosen(
            label=message("What the program proposed"),
            choices=(
                ("strong", message("well supported")),
                ("supported", message("supported")),
                ("open", message("not supported")),
                ("against", message("not likely")),
                ("excluded", message("ruled out")),
            ),
            phrase=message("proposed: {value}"),
        ),
    ] = None
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None
