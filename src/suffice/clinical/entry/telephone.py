"""How the family is reached by telephone."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from suffice.clinical.entry.field import Chosen, Dialled, Fact, Kind, Written
from suffice.message import message


class Telephone(Fact, tag="telephone", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A number of the family: it stands on its page and beside a handover, never on the caseload.

    The last one entered is in use; the others stay on the record.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("telephone"),
        title=message("Telephone"),
        about="parent",
        basis="reported",
    )

    number: Annotated[
        str,
        Dialled(
            label=message("Telephone number"),
            help=message("With the country where it is a foreign one, for example +34 555 010 177"),
            longest_characters=40,
            least_count=5,
            most_count=15,
        ),
    ]
    whose: Annotated[
        Literal["parent", "partner", "other"] | None,
        Chosen(
            label=message("Whose number"),
            choices=(
                ("parent", message("the parent's")),
                ("partner", message("the partner's")),
                ("other", message("somebody else's")),
            ),
        ),
    ] = None
    calling: Annotated[
        str | None,
        Written(
            label=message("When to call, and what to mind"),
            help=message("For example: after 10; leave no word with anybody else"),
            longest_characters=120,
        ),
    ] = None
