"""What the columns of a table mean: guessed from their names, shown, and corrected by the reader.

A guess is only a proposal: the preview shows it beside the first rows as they would be read. Units
stand in the names (``weight_kg``, ``Weight (g)``); where none does, a bare number is read in the
unit of the field or asked about.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import Final

import msgspec

from suffice.clinical.entry import KINDS, Birth, Fact
from suffice.clinical.entry import field as declared
from suffice.clinical.entry.field import fields_of
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.clinical.units import HOURS_PER_DAY
from suffice.errors import InputError, Problem
from suffice.message import Listed, Message, Number, Words, message


class Field(StrEnum):
    """What a column may hold."""

    FAMILY = "family"
    INFANT = "infant"
    MOMENT = "date and time"
    DATE = "date"
    TIME = "time"
    AGE = "age"
    BIRTH_MOMENT = "birth date and time"
    BIRTH_DATE = "birth date"
    BIRTH_TIME = "birth time"
    SEX = "sex"
    GESTATION = "gestation"
    BIRTH_WEIGHT = "birth weight"
    WEIGHT = "weight"
    LENGTH = "length"
    HEAD = "head"
    TEMPERATURE = "temperature"
    BEFORE_FEED = "weight before feed"
    AFTER_FEED = "weight after feed"
    MILK = "milk"
    VOLUME = "volume"
    EXPRESSED = "expressed milk"
    DONOR = "donor milk"
    FORMULA = "formula"
    SIDE = "side"
    MINUTES = "minutes"
    WETS = "wets"
    STOOLS = "stools"
    COLOUR = "stool colour"
    NOTE = "note"
    DEVICE = "device"
    IGNORED = "ignored"


class Declared(msgspec.Struct, frozen=True, kw_only=True):
    """A column that holds one field of a kind of entry, as the field declares it."""

    kind: type[Fact]
    name: str
    field: declared.Field


def _declared() -> dict[str, Declared]:
    """The columns that fields declare, by their first name; kinds may share one."""
    found: dict[str, Declared] = {}
    for kind in KINDS.values():
        for name, field in fields_of(kind).items():
            if field.column:
                first = field.column.partition("|")[0]
                found.setdefault(first, Declared(kind=kind, name=name, field=field))
    return found


DECLARED: Mapping[str, Declared] = _declared()
"""Every column that a field declares."""

FIELDS: tuple[str, ...] = tuple(dict.fromkeys([*Field, *DECLARED]))
"""Everything that a column may hold: what the table itself knows, then what only a field declares."""


def _units() -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {Field.AGE: ("days", "hours", "weeks")}
    for first, one in DECLARED.items():
        if isinstance(one.field, declared.Measured) and one.field.quantity in QUANTITIES:
            found[first] = tuple(unit.sign for unit in QUANTITIES[one.field.quantity].units)
    return found | dict.fromkeys((Field.EXPRESSED, Field.DONOR, Field.FORMULA), found[Field.VOLUME])


UNIT_WORDS: Final[Mapping[str, Message]] = {
    "days": message("days"),
    "hours": message("hours"),
    "weeks": message("weeks"),
}
"""Units that are words, and so have one in each language; the others are signs."""

UNITS: Mapping[str, tuple[str, ...]] = _units()
"""The units in which a field may be written."""

VALUES = frozenset(
    {
        *(first for first, one in DECLARED.items() if one.kind is not Birth),
        *(Field.EXPRESSED, Field.DONOR, Field.FORMULA),
    }
    - {Field.AFTER_FEED}
)
"""Fields of which each cell becomes part of an entry of its own row."""

_UNIT_SPELLINGS = {
    "days": "d day days age_days dias día días",
    "hours": "h hr hrs hour hours horas",
    "weeks": "w wk wks week weeks sem semanas",
    "g": "g gr gm gram grams grammes gramos",
    "kg": "kg kgs kilo kilos kilograms",
    "lb": "lb lbs pounds libras",
    "oz": "oz ounces onzas",
    "cm": "cm cms centimeters centimetres",
    "in": "in inch inches pulgadas",
    "mm": "mm",
    "C": "c °c celsius",
    "F": "f °f fahrenheit",
    "mL": "ml mls cc millilitres milliliters",
    "L": "l litres liters litros",
    "min": "min mins minutes minutos",
}


def _units_by_spelling() -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    spelt = [(unit, one) for unit, all_of in _UNIT_SPELLINGS.items() for one in all_of.split()]
    spelt += [
        (unit.sign, _plain(one))
        for quantity in QUANTITIES.values()
        for unit in quantity.units
        for one in unit.spellings.split("|")
        if one
    ]
    for unit, spelling in spelt:
        found[spelling] = tuple(dict.fromkeys((*found.get(spelling, ()), unit)))
    return found


_NAMES: dict[str, str] = {
    Field.FAMILY: "family|family name|family id|familia|nombre de familia",
    Field.INFANT: "id|infant|infant id|baby|baby id|child|child id|subject|subject id|patient id"
    "|study id|bebe|nino",
    Field.MOMENT: "date and time|datetime|date time|timestamp|when|measured at|weighed at"
    "|fecha y hora",
    Field.DATE: "date|day|measured on|weighed on|visit date|fecha",
    Field.TIME: "time|time of day|hour|clock|hora",
    Field.AGE: "age|age at visit|edad",
    Field.BIRTH_MOMENT: "birth date and time|born at|born|date and time of birth|birth datetime",
    Field.BIRTH_DATE: "birth date|date of birth|dob|birthdate|birthday|born on|fecha de nacimiento",
    Field.BIRTH_TIME: "birth time|time of birth|hora de nacimiento",
    Field.EXPRESSED: "expressed milk|expressed|ebm|expressed breast milk|leche extraida",
    Field.DONOR: "donor milk|donor|leche donada",
    Field.FORMULA: "formula|formula milk",
    Field.DEVICE: "device|scale|balance|bascula",
    **{first: one.field.column for first, one in DECLARED.items()},
}
_FIELDS_BY_NAME = {name: field for field, names in _NAMES.items() for name in names.split("|")}
COUNTED: Final = frozenset({Field.WETS, Field.STOOLS})
"""Counts of the hours that their column, or the reader, names."""
FEED_COUNT: Final = "feed count"
FEEDS: Final = frozenset({FEED_COUNT, "feeds", "number of feeds", "breastfeeds", "tomas"})
"""Names of the column of feeds in 24 h, where it says the hours: else it may tell of one feed a row."""
_OVER_H = re.compile(r"(.*?) ?(?:in |per |/ ?|last |over )?(\d{1,2}) ?h(?:ours?|rs?)?")
_PER_DAY = re.compile(r"(.*?) (?:per day|a day|/ ?day|daily|al dia)")
_BRACKETS = re.compile(r"(.*?)[(\[]([^)\]]*)[)\]]\s*")
_MICRO = str.maketrans({"\N{MICRO SIGN}": "u", "\N{GREEK SMALL LETTER MU}": "u"})


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """What one column means.

    Attributes:
        header: Its name in the file.
        index: Its place, from 0.
        unit: One of UNITS, or '' when the name gives none.
        over_h: For counts: the hours that each cell covers, if the name says so.
        is_guess: False when the reader said it.
    """

    header: str
    index: int
    field: str
    unit: str = ""
    over_h: float | None = None
    is_guess: bool = True

    @property
    def spelt(self) -> str:
        """The meaning as `assign` accepts it."""
        hours = f"in {self.over_h:g} h" if self.over_h else ""
        return " ".join(filter(None, [str(self.field), self.unit, hours]))

    @property
    def words(self) -> Words:
        """The meaning in words: field, unit, and the hours that a count covers."""
        field = meaning(self.field)
        if self.over_h:
            return message("{field} in {hours} h", field=field, hours=Number(self.over_h))
        return message("{field} {unit}", field=field, unit=self.unit) if self.unit else field


COLUMNS: Final[Mapping[str, Message]] = {
    Field.FAMILY: message("family"),
    Field.INFANT: message("infant"),
    Field.MOMENT: message("date and time"),
    Field.DATE: message("date"),
    Field.TIME: message("time"),
    Field.AGE: message("age"),
    Field.BIRTH_MOMENT: message("birth date and time"),
    Field.BIRTH_DATE: message("birth date"),
    Field.BIRTH_TIME: message("birth time"),
    Field.SEX: message("sex"),
    Field.GESTATION: message("gestation"),
    Field.BIRTH_WEIGHT: message("birth weight"),
    Field.WEIGHT: message("weight"),
    Field.LENGTH: message("length"),
    Field.HEAD: message("head"),
    Field.TEMPERATURE: message("temperature"),
    Field.BEFORE_FEED: message("weight before feed"),
    Field.AFTER_FEED: message("weight after feed"),
    Field.MILK: message("milk"),
    Field.VOLUME: message("volume"),
    Field.EXPRESSED: message("expressed milk"),
    Field.DONOR: message("donor milk"),
    Field.FORMULA: message("formula"),
    Field.SIDE: message("side"),
    Field.MINUTES: message("minutes"),
    Field.WETS: message("wets"),
    Field.STOOLS: message("stools"),
    Field.COLOUR: message("stool colour"),
    Field.NOTE: message("note"),
    Field.DEVICE: message("device"),
    Field.IGNORED: message("ignored"),
}
"""What the columns that the table itself knows are called."""


def meaning(field: str) -> Words:
    """What a column may hold, in words."""
    one = DECLARED.get(field)
    if field in COLUMNS:
        return COLUMNS[field]
    if one is None:
        return str(field)
    return message("{kind}: {field}", kind=one.kind.declared.name, field=one.field.label)


def guess(header: str, index: int) -> Column:
    """The likeliest meaning of a column, by its name; IGNORED where it has none."""
    name, unit, over_h = _parts(header)
    field = _FIELDS_BY_NAME.get(name, Field.IGNORED)
    units = UNITS.get(field, ())
    named = next((one for one in _UNITS_BY_SPELLING.get(unit, ()) if one in units), "")
    if unit and not named:
        # The last word was no unit of this field after all: it may be part of the name.
        field, named = _FIELDS_BY_NAME.get(f"{name} {unit}", Field.IGNORED), ""
    if name in FEEDS and over_h == HOURS_PER_DAY:
        field, over_h = FEED_COUNT, None
    elif over_h is not None and field not in COUNTED:
        field, over_h = Field.IGNORED, None  # weight_24h is a weight at 24 h, not one over 24 h
    return Column(header=header, index=index, field=field, unit=named, over_h=over_h)


def columns_of(
    header: Sequence[str], meanings: Mapping[str, str] | None = None
) -> tuple[Column, ...]:
    """The meaning of every column.

    Args:
        header: The names of the columns.
        meanings: What the reader says of some columns, by name: a field, with its unit where it has
            units, such as ``weight kg``, ``wets in 24 h`` or ``ignored``.

    Raises:
        InputError: CSV-020 to CSV-023; every problem found.
    """
    meanings = meanings or {}
    problems = [_no_column(name, header) for name in meanings if name not in header]
    columns = []
    for index, name in enumerate(header):
        if name not in meanings:
            columns.append(guess(name, index))
            continue
        column = guess(meanings[name], index)
        if (
            column.field is Field.IGNORED
            and meanings[name].strip().casefold() != Field.IGNORED.value
        ):
            problems.append(_unknown_field(name, meanings[name]))
        columns.append(msgspec.structs.replace(column, header=name, is_guess=False))
    chosen = _without_rivals(columns)
    problems += _columns_given_twice(chosen)
    if not problems and not any(column.field in VALUES for column in chosen):
        problems.append(_nothing_to_read(header))
    if problems:
        raise InputError(*problems)
    return tuple(chosen)


def _without_rivals(columns: list[Column]) -> list[Column]:
    """A guessed age is left aside where the file has dates: they say more."""
    has_date = any(column.field in {Field.DATE, Field.MOMENT} for column in columns)
    return [
        msgspec.structs.replace(column, field=Field.IGNORED, unit="")
        if has_date and column.is_guess and column.field is Field.AGE
        else column
        for column in columns
    ]


def _parts(header: str) -> tuple[str, str, float | None]:
    """The name of a column without its unit, the unit, and the hours that a count covers."""
    spaced = re.sub(r"(?<=[a-z]{2})(?=[A-Z])", " ", header)
    name = _plain(spaced)
    over_h = None
    if daily := _PER_DAY.fullmatch(name):
        name, over_h = daily[1], 24.0
    elif hours := _OVER_H.fullmatch(name):
        name, over_h = hours[1], float(hours[2])
    if over_h is not None:
        return name.strip(), "", over_h
    if bracketed := _BRACKETS.fullmatch(name):
        return bracketed[1].strip(), bracketed[2].strip(), None
    if name in _FIELDS_BY_NAME:
        return name, "", None
    words = name.split(" ")
    for count in (2, 1):  # the unit may be two words: mg dl
        first, last = " ".join(words[:-count]), " ".join(words[-count:])
        if first and last in _UNITS_BY_SPELLING:
            return first, last, None
    return name, "", None


def _plain(text: str) -> str:
    """In lower case, without accents, underlines and stops."""
    bare = unicodedata.normalize("NFKD", text.casefold()).translate(_MICRO)
    bare = "".join(character for character in bare if not unicodedata.combining(character))
    return " ".join(re.sub(r"[_.:,-]+", " ", bare).split())


_UNITS_BY_SPELLING = _units_by_spelling()


def _columns_given_twice(columns: Iterable[Column]) -> list[Problem]:
    by_field: dict[str, list[str]] = {}
    for column in columns:
        if column.field is not Field.IGNORED:
            by_field.setdefault(column.field, []).append(column.header)
    return [
        Problem(
            code="CSV-022",
            what=message(
                "The columns {names} both look like {field}.",
                names=Listed(tuple(names), "and"),
                field=meaning(field),
            ),
            why=message("Each field is read from one column."),
            fix=message(
                "Say of all but one that they are '{ignored}', or something else.",
                ignored=Field.IGNORED.value,
            ),
            where=message("columns"),
        )
        for field, names in by_field.items()
        if len(names) > 1
    ]


def _no_column(name: str, header: Sequence[str]) -> Problem:
    return Problem(
        code="CSV-020",
        what=message("There is no column '{name}'.", name=name),
        why=message("The file has {names}.", names=Listed(tuple(header))),
        fix=message("Name one of these."),
        where=message("columns"),
    )


def _unknown_field(name: str, meaning: str) -> Problem:
    near = difflib.get_close_matches(meaning.casefold(), FIELDS, n=3)
    return Problem(
        code="CSV-021",
        what=message("The column '{name}' cannot mean '{said}'.", said=meaning, name=name),
        why=message("Nearest are {near}.", near=Listed(tuple(near)))
        if near
        else message("The page on importing a table lists what can."),
        fix=message("Name one of these, with its unit, for example 'weight kg'."),
        where=message("columns"),
    )


def _nothing_to_read(header: Sequence[str]) -> Problem:
    return Problem(
        code="CSV-023",
        what=message(
            "None of the columns {names} is known to contain a value.",
            names=Listed(tuple(header)),
        ),
        why=message("A weight, a feed, a wet or a stool at least is needed."),
        fix=message("Say what the columns mean, for example 'weight kg'."),
        where=message("columns"),
    )
