"""What a field of a fact is, declared once: everything else about it follows.

A kind of entry is a struct whose fields carry one of the declarations below in ``Annotated``. Its
form, its column in a table, its limits, its line in the time line and its round-trip tests are made
from them; :func:`fields_of` reads them. A declaration names limits by their keys in the content and
never holds a clinical value.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from functools import cache
from types import NoneType
from typing import Any, ClassVar, Literal, get_args, get_type_hints

import msgspec

from suffice.clinical.reading.quantity import QUANTITIES
from suffice.message import Message, Words, message


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """Between which values a field is possible, and between which it is usual.

    Attributes:
        high: Keys of limits in the content's topic 'plausibility', or whole content keys: unusual above
            the first, impossible above the second.
        low: Impossible below the first, unusual below the second; None: below `least`.
        least: The lowest possible value where there are no low limits; None: there is none.
        slip: The slip that may explain an odd value.
        unit: What follows the value in the question; empty: the unit of its quantity.
        codes: Of the problem of an impossible value, and of an unusual one.
    """

    high: tuple[str, str]
    unit: Words = ""
    codes: tuple[str, str] = ("VALUE-001", "VALUE-002")
    low: tuple[str, str] | None = None
    least: float | None = 0
    slip: Literal["digits", "fahrenheit", ""] = ""


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """What every declaration says.

    Attributes:
        label: What the field is called where it is entered.
        help: How to write it.
        phrase: The field in the line of its fact, with a gap ``value``, or ``count`` where it has a
            plural; None: the value alone. Yes and no have phrases of their own.
        column: What its column in a table may be called, apart by '|'; empty: it has none.
    """

    label: Message
    help: Words = ""
    phrase: Message | None = None
    column: str = ""


class Measured(Field, frozen=True, kw_only=True):
    """A value that people write in units of their own.

    `quantity` is a name of `clinical.reading.quantity`, or 'hours'.
    `least_h` and `most_h` are what a form takes where the quantity is hours.
    """

    quantity: str
    limits: Limits | None = None
    least_h: float = 0
    most_h: float | None = None

    @property
    def sign(self) -> str:
        """How the stored unit is written."""
        return QUANTITIES[self.quantity].units[0].sign if self.quantity in QUANTITIES else "h"


class Counted(Field, frozen=True, kw_only=True):
    """A whole number from `least_count` to `most_count` (what a form takes)."""

    least_count: int
    most_count: int
    unsaid_count: int | None = None
    """The ordinary value, which a line need not say."""
    limits: Limits | None = None


class Chosen(Field, frozen=True, kw_only=True):
    """One of a few values, each with its name; `enumeration` is theirs, where they have one."""

    choices: tuple[tuple[str, Message], ...]
    enumeration: type[StrEnum] | None = None


class Listed(Field, frozen=True, kw_only=True):
    """A key of one of the content's vocabularies, which says whose it can be.

    A key that the content no longer holds stays on the record and is shown as it stands.
    """

    vocabulary: str


class Answered(Field, frozen=True, kw_only=True):
    """Yes or no; `yes` and `no` are what the time line says, empty where it says nothing."""

    yes: Words
    no: Words
    choices: tuple[Message, Message] = (message("Yes"), message("No"))
    """What stands on the two answers."""
    is_box: bool = False
    """Whether a form shows one box to tick instead of two answers."""


class Written(Field, frozen=True, kw_only=True):
    """Text as somebody typed it, up to `longest_characters`."""

    longest_characters: int
    is_long: bool = False


class Dialled(Written, frozen=True, kw_only=True):
    """A telephone number as it is dialled, of `least_count` to `most_count` digits (what a form takes)."""

    least_count: int
    most_count: int


class OfFlag(Written, frozen=True, kw_only=True):
    """The code of a flag, chosen from those that are open; the content may change its codes later.

    `none` says what it means that none is chosen.
    """

    longest_characters: int = 80
    none: Words = ""


class OfWord(Written, frozen=True, kw_only=True):
    """What was found of a word of a vocabulary, in the way that the word is answered.

    `word` is the field that holds the word. An answer that the vocabulary does not know stays on the
    record and is shown as it stands.
    """

    word: str


class OfContact(Field, frozen=True, kw_only=True):
    """The entry of the contact to which a fact belongs; no form asks it, a page brings it along."""


class Moment(Field, frozen=True, kw_only=True):
    """An instant on the clinic's clock; `is_past` where it cannot lie after the entry's own."""

    is_past: bool = False


class Kept(Field, frozen=True, kw_only=True):
    """What no form asks: a correction keeps it, a new entry takes it from the clinic."""


class Happened(Kept, frozen=True, kw_only=True):
    """The events of a watched feed, made by the page that watches it; a form shows them as lines."""


class OneOf(msgspec.Struct, frozen=True, kw_only=True):
    """Fields of which one at least must be known, and what is said where none is."""

    fields: tuple[str, ...]
    why: Message
    fix: Message


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """What is declared of a kind of entry beside its fields.

    Attributes:
        name: What the kind is called, as in a sentence.
        title: What its form is called.
        about: Whose fact it can be.
        basis: How it is usually known.
        device: What the device is called with which it is measured; empty where there is none.
        when: What its time is called; empty: simply when.
        needs: Fields of which one at least must be known.
        is_of_family: Whether it is about the family as a whole where nobody says of whom.
        is_final: Whether nothing may take its place, neither a correction nor a withdrawal.
        is_once: Whether nobody enters two of them in a row, so that no form offers it.
    """

    name: Message
    title: Message
    about: Literal["infant", "parent", "either"] = "infant"
    basis: Literal["measured", "observed", "reported"] = "observed"
    device: Words = ""
    when: Words = ""
    needs: OneOf | None = None
    is_of_family: bool = False
    is_final: bool = False
    is_once: bool = False


class Fact(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind"):
    """The content of an entry; `declared` says what kind it is."""

    declared: ClassVar[Kind]

    def __post_init__(self) -> None:
        needs = self.declared.needs
        if needs and all(getattr(self, one) is None for one in needs.fields):
            raise ValueError(f"{kind_of(self)} needs one of {', '.join(needs.fields)}")


@cache
def fields_of(kind: type[Fact]) -> dict[str, Field]:
    """The declared fields of a kind, by name, in the order in which they are shown.

    Raises:
        TypeError: A field of the kind carries no declaration, or one of values of another type: what a
            form makes of it could be written and never be read again.
    """
    hints = get_type_hints(kind, include_extras=True)
    types = get_type_hints(kind)
    found: dict[str, Field] = {}
    for name in kind.__struct_fields__:
        declared = [one for one in get_args(hints[name]) if isinstance(one, Field)]
        if not declared:
            raise TypeError(f"{kind.__name__}.{name} says nowhere what it is")
        held, wanted = {*get_args(types[name])} or {types[name]}, _held_by(declared[0])
        if wanted is not None and held - {NoneType} != {wanted}:
            what = f"{type(declared[0]).__name__} holds {wanted.__name__}"
            raise TypeError(f"{kind.__name__}.{name}: {what}, and its type is {types[name]}")
        found[name] = declared[0]
    return found


_HELD: dict[type[Field], type] = {
    Counted: int, Listed: str, Answered: bool, Written: str, Moment: datetime,
}  # fmt: skip


def _held_by(field: Field) -> type | None:
    """The type of a field's values, beside None where it may be left open; None: any."""
    if isinstance(field, Measured):
        return int if field.quantity == "gestation" else float
    return next((held for one, held in _HELD.items() if isinstance(field, one)), None)


def kind_of(fact: Fact | type[Fact]) -> str:
    """The name of a fact's kind, as it is stored and exchanged."""
    return str(fact.__struct_config__.tag)


def is_required(kind: type[Fact], name: str) -> bool:
    """Whether a fact cannot be without this field."""
    return bool(_fields_of(kind)[name].required)


def default_of(kind: type[Fact], name: str) -> Any:
    """What the field is where nothing is said of it."""
    return _fields_of(kind)[name].default


@cache
def _fields_of(kind: type[Fact]) -> dict[str, msgspec.structs.FieldInfo]:
    """Each field of a kind as its class declares it; msgspec reads the annotations anew at each question."""
    return {one.name: one for one in msgspec.structs.fields(kind)}
