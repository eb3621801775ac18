"""What the columns of a table mean: guessed from their names, shown, and corrected by the reader.

A guess is only a proposal: the preview shows it beside the first rows as they would be read. Units
stand in the names (``weight_kg``, ``Weight (g)``); where none does, a bare number is read in the
unit of the field or asked about.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

import msgspec

from suffice.errors import InputError, Problem


class Field(StrEnum):
    """What a column may hold."""

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


UNITS: dict[Field, tuple[str, ...]] = {
    Field.AGE: ("days", "hours", "weeks"),
    Field.GESTATION: ("days", "weeks"),
    **dict.fromkeys(
        (Field.BIRTH_WEIGHT, Field.WEIGHT, Field.BEFORE_FEED, Field.AFTER_FEED),
        ("g", "kg", "lb", "oz"),
    ),
    **dict.fromkeys((Field.LENGTH, Field.HEAD), ("cm", "in", "mm")),
    Field.TEMPERATURE: ("C", "F"),
    **dict.fromkeys((Field.VOLUME, Field.EXPRESSED, Field.DONOR, Field.FORMULA), ("mL", "oz", "L")),
    Field.MINUTES: ("min", "hours"),
}
"""The units in which a field may be written."""

VALUES = frozenset(
    {
        Field.WEIGHT,
        Field.LENGTH,
        Field.HEAD,
        Field.TEMPERATURE,
        Field.BEFORE_FEED,
        Field.MILK,
        Field.VOLUME,
        Field.EXPRESSED,
        Field.DONOR,
        Field.FORMULA,
        Field.SIDE,
        Field.MINUTES,
        Field.WETS,
        Field.STOOLS,
        Field.COLOUR,
        Field.NOTE,
    }
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
_UNITS_BY_SPELLING: dict[str, tuple[str, ...]] = {}
for _unit, _spellings in _UNIT_SPELLINGS.items():
    for _spelling in _spellings.split():
        _UNITS_BY_SPELLING[_spelling] = (*_UNITS_BY_SPELLING.get(_spelling, ()), _unit)

_NAMES: dict[Field, str] = {
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
    Field.SEX: "sex|gender|sexo",
    Field.GESTATION: "gestation|gest|gestational age|gestation at birth|ga|ga at birth"
    "|edad gestacional",
    Field.BIRTH_WEIGHT: "birth weight|birthweight|bw|bwt|weight at birth|peso al nacer",
    Field.WEIGHT: "weight|wt|body weight|bodyweight|mass|peso",
    Field.LENGTH: "length|len|height|body length|talla|longitud",
    Field.HEAD: "head|head circumference|hc|ofc|perimetro cefalico",
    Field.TEMPERATURE: "temperature|temp|body temperature|temperatura",
    Field.BEFORE_FEED: "weight before feed|before feed|pre feed weight|pre weight|weight before",
    Field.AFTER_FEED: "weight after feed|after feed|post feed weight|post weight|weight after",
    Field.MILK: "milk|feed|feed type|type of feed|feed kind|leche|toma",
    Field.VOLUME: "volume|vol|feed volume|amount|taken|volumen",
    Field.EXPRESSED: "expressed milk|expressed|ebm|expressed breast milk|leche extraida",
    Field.DONOR: "donor milk|donor|leche donada",
    Field.FORMULA: "formula|formula milk",
    Field.SIDE: "side|breast|lado",
    Field.MINUTES: "minutes|duration|feed duration|feed minutes|minutos|duracion",
    Field.WETS: "wets|wet|wet diapers|wet nappies|urine|panales mojados|orina",
    Field.STOOLS: "stools|stool|stools count|dirty diapers|dirty nappies|soiled|deposiciones",
    Field.COLOUR: "stool colour|stool color|colour|color",
    Field.NOTE: "note|notes|comment|comments|remark|remarks|nota|notas",
    Field.DEVICE: "device|scale|balance|bascula",
}
_FIELDS_BY_NAME = {name: field for field, names in _NAMES.items() for name in names.split("|")}
_OVER_H = re.compile(r"(.*?) ?(?:in |per |/ ?|last |over )?(\d{1,2}) ?h(?:ours?|rs?)?")
_PER_DAY = re.compile(r"(.*?) (?:per day|a day|/ ?day|daily|al dia)")
_BRACKETS = re.compile(r"(.*?)[(\[]([^)\]]*)[)\]]\s*")


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
    field: Field
    unit: str = ""
    over_h: float | None = None
    is_guess: bool = True

    @property
    def said(self) -> str:
        """The meaning in words, as `assign` accepts it."""
        hours = f"in {self.over_h:g} h" if self.over_h else ""
        return " ".join(filter(None, [self.field.value, self.unit, hours]))


def guess(header: str, index: int) -> Column:
    """The likeliest meaning of a column, by its name; IGNORED where it has none."""
    name, unit, over_h = _parts(header)
    field = _FIELDS_BY_NAME.get(name, Field.IGNORED)
    units = UNITS.get(field, ())
    named = next((one for one in _UNITS_BY_SPELLING.get(unit, ()) if one in units), "")
    if unit and not named:
        # The last word was no unit of this field after all: it may be part of the name.
        field, named = _FIELDS_BY_NAME.get(f"{name} {unit}", Field.IGNORED), ""
    if over_h is not None and field not in {Field.WETS, Field.STOOLS}:
        field, over_h = Field.IGNORED, None  # weight_24h is a weight at 24 h, not one over 24 h
    return Column(header=header, index=index, field=field, unit=named, over_h=over_h)


def columns_of(header: Sequence[str], said: Mapping[str, str] | None = None) -> tuple[Column, ...]:
    """The meaning of every column.

    Args:
        header: The names of the columns.
        said: What the reader says of some columns, by name: a field, with its unit where it has
            units, such as ``weight kg``, ``wets in 24 h`` or ``ignored``.

    Raises:
        InputError: CSV-020 to CSV-023; every problem found.
    """
    said = said or {}
    problems = [_no_column(name, header) for name in said if name not in header]
    columns = []
    for index, name in enumerate(header):
        if name not in said:
            columns.append(guess(name, index))
            continue
        column = guess(said[name], index)
        if column.field is Field.IGNORED and said[name].strip().casefold() != Field.IGNORED.value:
            problems.append(_unknown_field(name, said[name]))
        columns.append(msgspec.structs.replace(column, header=name, is_guess=False))
    chosen = _without_rivals(columns)
    problems += _twice(chosen)
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
    first, _, last = name.rpartition(" ")
    return (first, last, None) if first and last in _UNITS_BY_SPELLING else (name, "", None)


def _plain(text: str) -> str:
    """In lower case, without accents, underlines and stops."""
    bare = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(character for character in bare if not unicodedata.combining(character))
    return " ".join(re.sub(r"[_.:,-]+", " ", bare).split())


def _twice(columns: Iterable[Column]) -> list[Problem]:
    by_field: dict[Field, list[str]] = {}
    for column in columns:
        if column.field is not Field.IGNORED:
            by_field.setdefault(column.field, []).append(column.header)
    return [
        Problem(
            code="CSV-022",
            what=f"The columns {' and '.join(names)} both look like {field.value}.",
            why="Each field is read from one column.",
            fix=f"Say of all but one that they are '{Field.IGNORED.value}', or something else.",
            where="columns",
        )
        for field, names in by_field.items()
        if len(names) > 1
    ]


def _no_column(name: str, header: Sequence[str]) -> Problem:
    return Problem(
        code="CSV-020",
        what=f"There is no column '{name}'.",
        why=f"The file has {', '.join(header)}.",
        fix="Name one of these.",
        where="columns",
    )


def _unknown_field(name: str, said: str) -> Problem:
    return Problem(
        code="CSV-021",
        what=f"'{said}' is nothing that the column '{name}' can mean.",
        why=f"Known are {', '.join(field.value for field in Field)}.",
        fix="Name one of these, with its unit, for example 'weight kg'.",
        where="columns",
    )


def _nothing_to_read(header: Sequence[str]) -> Problem:
    return Problem(
        code="CSV-023",
        what=f"None of the columns {', '.join(header)} is known to hold a value.",
        why="A weight, a feed, a wet or a stool at least is needed.",
        fix="Say what the columns mean, for example 'weight kg'.",
        where="columns",
    )
