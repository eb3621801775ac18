"""Contacts with the family, what they consent to, notes, and what was entered in error."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Annotated, ClassVar, Literal
from uuid import UUID

from suffice.clinical.entry.field import Answered, Chosen, Fact, Kind, Moment, OfContact, Written
from suffice.message import message


class Setting(StrEnum):
    """Where the family is looked after."""

    WARD = "ward"
    NEONATAL_UNIT = "neonatal unit"
    CLINIC = "clinic"
    HOME = "home"
    PHONE = "phone"


SETTING = Chosen(
    label=message("Where"),
    choices=(
        ("ward", message("ward")),
        ("neonatal unit", message("neonatal unit")),
        ("clinic", message("clinic")),
        ("home", message("home")),
        ("phone", message("phone")),
    ),
    enumeration=Setting,
)


class ContactStart(
    Fact, tag="contact start", frozen=True, kw_only=True, forbid_unknown_fields=True
):
    """A contact begins: where, why the family asked for it, and what they want to reach."""

    declared: ClassVar[Kind] = Kind(
        name=message("start of a contact"), title=message("Start of a contact"),
        about="parent", basis="reported", is_once=True,
    )  # fmt: skip

    place: Annotated[
        Literal["bedside", "neonatal unit", "clinic", "home", "phone", "class"],
        Chosen(
            label=message("Where"),
            choices=(
                ("bedside", message("ward")),
                ("neonatal unit", message("neonatal unit")),
                ("clinic", message("clinic")),
                ("home", message("home")),
                ("phone", message("phone")),
                ("class", message("class")),
            ),
        ),
    ]
    reason: Annotated[
        str | None,
        Written(
            label=message("Reason, in the family's words"),
            longest_characters=2_000,
            is_long=True,
            phrase=message("reason: {value}"),
        ),
    ] = None
    goal: Annotated[
        str | None,
        Written(
            label=message("Goal, in the family's words"),
            longest_characters=2_000,
            is_long=True,
            phrase=message("goal: {value}"),
        ),
    ] = None


class Consent(Fact, tag="consent", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The family agrees to one thing, or no longer agrees; each thing and each person by itself."""

    declared: ClassVar[Kind] = Kind(
        name=message("consent"), title=message("Consent"), about="either", basis="reported"
    )

    to: Annotated[
        Literal["assess", "share", "photograph", "publish"],
        Chosen(
            label=message("To what"),
            choices=(
                ("assess", message("assessing and care")),
                ("share", message("sharing with other clinicians")),
                ("photograph", message("photographs for the record")),
                ("publish", message("publishing without names")),
            ),
        ),
    ]
    given: Annotated[
        bool,
        Answered(
            label=message("Do they agree?"),
            yes=message("agreed"),
            no=message("not agreed, or no longer"),
        ),
    ]
    by: Annotated[
        str | None,
        Written(
            label=message("Who said so"), longest_characters=120, phrase=message("said by {value}")
        ),
    ] = None


class Contact(Fact, tag="contact", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A contact took place; when the next is due; whether the family was discharged from care.

    `contact_id` is the one that it ends; without it, it ends what whoever enters it has in progress.
    """

    declared: ClassVar[Kind] = Kind(
        name=message("contact"), title=message("Contact"), about="parent", is_once=True
    )

    setting: Annotated[Setting, SETTING]
    next_due_at: Annotated[
        datetime | None,
        Moment(
            label=message("Next contact due"),
            help=message("Leave empty when none is planned"),
            phrase=message("next due {value}"),
        ),
    ] = None
    discharged: Annotated[
        bool,
        Answered(
            label=message("The family is discharged from care"),
            yes=message("discharged from care"),
            no="",
            is_box=True,
        ),
    ] = False
    contact_id: Annotated[UUID | None, OfContact(label=message("Contact"))] = None


class Note(Fact, tag="note", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Free text."""

    declared: ClassVar[Kind] = Kind(
        name=message("note"), title=message("Note"), about="either", is_of_family=True
    )

    text: Annotated[
        str,
        Written(
            label=message("Note"),
            longest_characters=20_000,
            is_long=True,
            column="note|notes|comment|comments|remark|remarks|nota|notas",
        ),
    ]


class Withdrawal(Fact, tag="withdrawal", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The replaced entry was made in error (wrong infant, say) and nothing stands in its place."""

    declared: ClassVar[Kind] = Kind(
        name=message("withdrawal"), title=message("Withdrawn"), about="either"
    )

    reason: Annotated[str, Written(label=message("Reason"), longest_characters=500)]
