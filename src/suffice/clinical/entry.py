"""What was observed: entries, their facts, and a family's record.

An :class:`Entry` says one fact, who said it, when it was true and when it was entered. Facts are
immutable and refuse to exist when their structure is wrong; whether a value is plausible is asked
elsewhere (clinical.plausibility), against limits that come from the content store.

Missing is ``None`` and means 'not asked': it is never zero and never 'no'.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from typing import ClassVar, Literal
from uuid import UUID

import msgspec


class Basis(StrEnum):
    """How a fact is known."""

    MEASURED = "measured"
    OBSERVED = "observed"
    REPORTED = "reported"


class Setting(StrEnum):
    """Where the family is looked after."""

    WARD = "ward"
    NEONATAL_UNIT = "neonatal unit"
    CLINIC = "clinic"
    HOME = "home"
    PHONE = "phone"


Sex = Literal["male", "female"]
Side = Literal["left", "right", "both"]


class Fact(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind"):
    """The content of an entry. `about_infant` says whose fact it is."""

    about_infant: ClassVar[bool] = True


class Birth(Fact, tag="birth", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Birth facts; the entry's `true_at` is the instant of birth and `zone` its IANA time zone."""

    zone: str
    sex: Sex | None = None
    gestation_days: int | None = None
    birth_weight_g: float | None = None
    mode: Literal["vaginal", "assisted vaginal", "caesarean"] | None = None
    intrapartum_fluids_ml: float | None = None
    multiple: int | None = None
    """How many were born together: 1 a singleton, 2 a twin."""


class Weight(Fact, tag="weight", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One weight; the scale is the entry's `device`."""

    weight_g: float
    clothing: Literal["naked", "dry diaper", "clothed"] | None = None
    feed_state: Literal["before feed", "after feed"] | None = None


class Size(Fact, tag="size", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Length and head circumference, either alone or both."""

    length_cm: float | None = None
    head_cm: float | None = None

    def __post_init__(self) -> None:
        if self.length_cm is None and self.head_cm is None:
            raise ValueError("a size needs a length or a head circumference")


class TestWeight(Fact, tag="test weight", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Weights on one scale just before and just after a feed."""

    __test__: ClassVar[bool] = False  # keeps pytest from collecting it

    before_g: float
    after_g: float
    minutes: float | None = None
    same_clothes: bool | None = None
    side: Side | None = None


class Feed(Fact, tag="feed", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One feed, or one part of a feed: at the breast, or a measured volume of one milk."""

    milk: Literal["breast", "expressed", "donor", "formula"]
    side: Side | None = None
    volume_ml: float | None = None
    minutes: float | None = None


class Expression(Fact, tag="expression", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One expression session of the parent."""

    about_infant: ClassVar[bool] = False

    left_ml: float | None = None
    right_ml: float | None = None
    minutes: float | None = None
    method: Literal["hand", "pump", "hand and pump"] | None = None
    hours_since_last: float | None = None

    def __post_init__(self) -> None:
        if self.left_ml is None and self.right_ml is None:
            raise ValueError("an expression session needs the volume of at least one side")


class Wet(Fact, tag="wet", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Wet diapers: one at `true_at`, or `count` in the `over_h` hours that end there."""

    count: int = 1
    over_h: float | None = None
    urates: bool | None = None
    """Pink or orange (urate) stain seen."""


class Stool(Fact, tag="stool", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Stools: one at `true_at`, or `count` in the `over_h` hours that end there (0 = none seen)."""

    count: int = 1
    over_h: float | None = None
    colour: Literal["black", "green", "brown", "yellow", "pale", "red"] | None = None
    amount: Literal["smear", "small", "large"] | None = None


class Temperature(Fact, tag="temperature", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A body temperature."""

    temperature_c: float
    site: Literal["axilla", "rectum", "ear", "forehead"] | None = None


class Illness(Fact, tag="illness", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An illness that the family's clinicians have named, or its end."""

    what: str
    present: bool = True


class Contact(Fact, tag="contact", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A contact took place; when the next is due; whether the family was discharged from care."""

    about_infant: ClassVar[bool] = False

    setting: Setting
    next_due_at: datetime | None = None
    discharged: bool = False


class Identity(Fact, tag="identity", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the parent (entry without infant) or an infant is called on the list."""

    name: str


class Note(Fact, tag="note", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Free text."""

    text: str


class Withdrawal(Fact, tag="withdrawal", frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The replaced entry was made in error (wrong infant, say) and nothing stands in its place."""

    reason: str


AnyFact = (
    Birth
    | Weight
    | Size
    | TestWeight
    | Feed
    | Expression
    | Wet
    | Stool
    | Temperature
    | Illness
    | Contact
    | Identity
    | Note
    | Withdrawal
)


class Entry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One observed fact. Instants are aware; `infant_id` is None for a fact about the parent."""

    id: UUID
    fact: AnyFact
    basis: Basis
    true_at: datetime
    entered_at: datetime
    entered_by: str
    infant_id: UUID | None = None
    device: str | None = None
    replaces: UUID | None = None

    def __post_init__(self) -> None:
        if self.true_at.tzinfo is None or self.entered_at.tzinfo is None:
            raise ValueError("an instant needs its offset from UTC")


class Infant(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An infant of a family; `position` 1 is the first-born."""

    id: UUID
    position: int


class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that is known of one family: its infants and every entry, superseded ones included."""

    family_id: UUID
    infants: tuple[Infant, ...]
    entries: tuple[Entry, ...] = ()

    def standing(self, as_of: datetime, known_by: datetime | None = None) -> tuple[Entry, ...]:
        """The entries that stand as of an instant, ordered by when they were true.

        An entry stands when it was true by `as_of` and no other entry replaces it; withdrawals
        themselves are left out. `known_by` leaves out, before that, what was entered later: it
        answers 'what did we know then'. Ties are broken by id, so the order of `entries` never
        matters.
        """
        entered = [e for e in self.entries if known_by is None or e.entered_at <= known_by]
        replaced = {entry.replaces for entry in entered if entry.replaces is not None}
        kept = (
            entry
            for entry in entered
            if entry.id not in replaced
            and entry.true_at <= as_of
            and not isinstance(entry.fact, Withdrawal)
        )
        return tuple(sorted(kept, key=lambda entry: (entry.true_at, str(entry.id))))


def about(entries: Iterable[Entry], infant_id: UUID | None) -> tuple[Entry, ...]:
    """The entries about one infant (or about the parent: None), in the order given."""
    return tuple(entry for entry in entries if entry.infant_id == infant_id)
