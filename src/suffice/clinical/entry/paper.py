"""Papers that were signed or given: what was on them, from what they were made, what was added later."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, ClassVar, Literal
from uuid import UUID

import msgspec

from suffice.clinical.entry.field import Chosen, Fact, Kept, Kind, OfContact, Written
from suffice.message import message


class Origin(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From what a paper was made, so that it can be made again, and told whether it is the same.

    Attributes:
        as_of: For when it says what it says; what was entered later is not in it.
        language: Language of its words, as in BCP 47.
        size: The sheet: 'A4' or 'letter'.
        content_version: Version of the content.
        engine_version: Version of the engine; empty where it was not asked.
        policy_count: Number of the clinic's policy.
        template_version: Version of the papers.
        digest: SHA-256 of its words, in hexadecimal.
        file_digest: SHA-256 of its file as it was made then.
        sheet: Of a teaching sheet its key.
    """

    as_of: datetime
    language: str
    size: str
    content_version: str
    engine_version: str
    policy_count: int
    template_version: str
    digest: str
    file_digest: str
    sheet: str = ""


class SignedNote(Fact, tag="signed note", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The note of one contact as somebody signed it; it never changes, amendments are added to it.

    `words` has the note, whole, in the form of `documents.kept`; `rests_on` names the entries that
    it quotes, in the order of their numbers.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("signed note"), title=message("Signed note"), about="parent", is_final=True,
        when=message("Signed"),
    )  # fmt: skip

    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None
    origin: Annotated[Origin | None, Kept(label=message("From what it was made"))] = None
    words: Annotated[str, Kept(label=message("Note"))] = ""
    rests_on: Annotated[tuple[UUID, ...], Kept(label=message("Entries that it quotes"))] = ()


class Amendment(Fact, tag="amendment", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is added to a signed note; note and amendment are both shown."""

    declared: ClassVar[Kind] = Kind(
        name=message("amendment to a note"), title=message("Amendment"), about="parent",
        is_final=True, when=message("Signed"),
    )  # fmt: skip

    note_id: Annotated[UUID | None, Kept(label=message("Signed note"))] = None
    text: Annotated[
        str,
        Written(label=message("Amendment"), longest_characters=5_000, is_long=True),
    ]


class PaperGiven(Fact, tag="paper given", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A paper was given to the family: which, in what language, made from what."""

    declared: ClassVar[Kind] = Kind(
        name=message("paper given"), title=message("Paper given"), about="either",
        is_of_family=True, when=message("Given"),
    )  # fmt: skip

    paper: Annotated[
        Literal["plan", "days", "sheet", "log", "letter", "note", "discharge"],
        Chosen(
            label=message("Which paper"),
            choices=(
                ("plan", message("feeding plan")),
                ("days", message("the first days")),
                ("sheet", message("teaching sheet")),
                ("log", message("log of a day")),
                ("letter", message("letter")),
                ("note", message("note")),
                ("discharge", message("discharge summary")),
            ),
        ),
    ]
    title: Annotated[
        str | None,
        Written(label=message("Its title"), longest_characters=300, phrase=message("“{value}”")),
    ] = None
    language: Annotated[
        Literal["en", "es", "ar"] | None,
        Chosen(
            label=message("Language"),
            choices=(
                ("en", message("English")),
                ("es", message("Spanish")),
                ("ar", message("Arabic")),
            ),
        ),
    ] = None
    origin: Annotated[Origin | None, Kept(label=message("From what it was made"))] = None
