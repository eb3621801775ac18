"""A photograph of a latch that is kept for the record, with what was marked in it."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal
from uuid import UUID

import msgspec

from suffice.clinical.entry.field import Answered, Chosen, Fact, Kept, Kind, OfContact
from suffice.clinical.latch.mark import Mark
from suffice.message import message


class KeptPicture(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which picture it is: the record names it, the picture itself is kept apart from the record.

    `digest` is the SHA-256 of the picture as it was stored, in hexadecimal.
    """

    id: UUID
    digest: str
    width_count: int
    height_count: int
    """Pixels."""


class LatchPhotograph(
    Fact, tag="latch photograph", frozen=True, kw_only=True, forbid_unknown_fields=True
):
    """A photograph of an infant at the breast.

    What it says is computed from the marks, never stored. It stays when the picture is erased. Without
    a picture it is not there any more, or was never on this server.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("photograph of a latch"), title=message("Photograph of a latch")
    )

    picture: Annotated[KeptPicture | None, Kept(label=message("Photograph"))] = None
    marks: Annotated[tuple[Mark, ...], Kept(label=message("Marks"))] = ()
    side: Annotated[
        Literal["left", "right"] | None,
        Chosen(
            label=message("Breast"),
            choices=(("left", message("left")), ("right", message("right"))),
        ),
    ] = None
    view: Annotated[
        Literal["side", "unknown"],
        Chosen(
            label=message("Taken from"),
            help=message("The camera to the side of the infant's face, level with the mouth"),
            choices=(
                ("side", message("the side")),
                ("unknown", message("elsewhere, or not known")),
            ),
        ),
    ] = "unknown"
    hidden: Annotated[
        bool,
        Answered(
            label=message("The chin hides the areola below the lower lip"),
            yes=message("areola below the lip hidden by the chin"),
            no="",
            is_box=True,
        ),
    ] = False
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None
    same_latch: Annotated[UUID | None, Kept(label=message("The same latch as"))] = None
    """The picture of the first photograph of this latch; None: it is the first, or the only one."""

    @property
    def latch(self) -> UUID | None:
        """Which latch it shows: photographs of one latch name one picture. It outlives corrections."""
        return self.same_latch or (self.picture.id if self.picture else None)
