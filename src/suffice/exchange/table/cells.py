"""One cell of a table, read as the value of its field, or refused with the reason.

Reading is remembered per column: a file of fifty thousand rows holds few different texts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from suffice.clinical.reading.candidate import Reading
from suffice.clinical.reading.numeral import DecimalMark, readings, tidy
from suffice.clinical.reading.reading import (
    ReadingLimits,
    read_duration,
    read_gestation,
    read_length,
    read_temperature,
    read_volume,
    read_weight,
)
from suffice.errors import InputError, Problem
from suffice.exchange.table.columns import UNITS, Column, Field

HOURS_PER = {"hours": 1.0, "days": 24.0, "weeks": 168.0}

_WORDS: dict[Field, dict[str, str]] = {
    Field.SEX: {
        "male": "male m boy masculino varon varón niño",
        "female": "female f girl femenino mujer niña",
    },
    Field.SIDE: {
        "left": "left l izquierdo izquierda izq",
        "right": "right r derecho derecha der",
        "both": "both ambos ambas",
    },
    Field.MILK: {
        "breast": "breast breastfeed breastfeeding breastfed bf nursing pecho",
        "expressed": "expressed ebm",
        "donor": "donor dbm",
        "formula": "formula fórmula",
    },
    Field.COLOUR: {
        "black": "black negro",
        "green": "green verde",
        "brown": "brown marrón",
        "yellow": "yellow amarillo",
        "pale": "pale white pálido",
        "red": "red rojo",
    },
}
_BY_WORD = {
    field: {word: meant for meant, words in meanings.items() for word in words.split()}
    for field, meanings in _WORDS.items()
}
_WHOLE = re.compile(r"(\d+)(?:[.,]0+)?")
_COMMA = re.compile(r"\d+,(?:\d{1,2}|\d{4,})")
_POINT = re.compile(r"\d+\.(?:\d{1,2}|\d{4,})")
_BARE = re.compile(r"[\d.,' ]+")


def decimal_mark(cells: Iterable[str]) -> tuple[DecimalMark | None, str]:
    """The mark before decimals in a file's numbers, and a cell that shows it.

    Returns:
        None with two cells where both marks are used; '.' with '' where no cell shows one.
    """
    comma = point = ""
    for cell in cells:
        comma = comma or (cell if _COMMA.fullmatch(cell) else "")
        point = point or (cell if _POINT.fullmatch(cell) else "")
        if comma and point:
            return None, f"'{point}' and '{comma}'"
    return ("," if comma else "."), comma or point


class CellReader:
    """Reads the cells of one column; `read` gives the value or raises InputError."""

    def __init__(self, column: Column, limits: ReadingLimits, mark: DecimalMark) -> None:
        self.column = column
        self._limits = limits
        self._mark = mark
        self._known: dict[str, Any] = {}
        self._read = self._reader()

    def read(self, cell: str) -> Any:
        """The value of a cell that is not missing, in the stored unit.

        Raises:
            InputError: READ-001 to READ-007, or CSV-024 and CSV-025; a reading that must be asked
                about is refused too, since nobody can be asked row by row.
        """
        if cell not in self._known:
            try:
                self._known[cell] = self._read(cell)
            except InputError as error:
                self._known[cell] = error.problems
        found = self._known[cell]
        if isinstance(found, tuple):
            raise InputError(*found)
        return found

    def _reader(self) -> Callable[[str], Any]:
        field = self.column.field
        if field in {Field.AGE, Field.WETS, Field.STOOLS}:
            return self._age_h if field is Field.AGE else self._count
        if field in _BY_WORD:
            return self._word
        measured = {
            **dict.fromkeys(UNITS, self._volume),
            **dict.fromkeys(
                (Field.WEIGHT, Field.BIRTH_WEIGHT, Field.BEFORE_FEED, Field.AFTER_FEED),
                self._weight,
            ),
            **dict.fromkeys((Field.LENGTH, Field.HEAD), self._length),
            Field.TEMPERATURE: self._temperature,
            Field.GESTATION: self._gestation,
            Field.MINUTES: self._minutes,
        }
        if field not in measured:
            return str
        read = measured[field]
        if field is Field.GESTATION:
            return lambda cell: round(self._clear(read(self._with_unit(cell))))  # whole days
        return lambda cell: self._clear(read(self._with_unit(cell)))

    def _with_unit(self, cell: str) -> str:
        """A bare number with the unit of its column behind it; other text as it is."""
        unit = self.column.unit
        if not unit or not _BARE.fullmatch(cell):
            return cell
        if unit in HOURS_PER and (whole := _WHOLE.fullmatch(cell)):
            cell = whole[1]
        return f"{cell} {unit}"

    def _clear(self, reading: Reading) -> float:
        if reading.doubts and not self.column.unit and self.column.field in UNITS:
            raise InputError(_no_unit(self.column, reading.doubts[0]))
        if reading.doubts:
            raise InputError(*reading.doubts)
        return reading.candidates[0].value

    def _weight(self, text: str) -> Reading:
        return read_weight(text, self._limits, decimal_mark=self._mark)

    def _volume(self, text: str) -> Reading:
        return read_volume(text, self._limits, decimal_mark=self._mark)

    def _length(self, text: str) -> Reading:
        return read_length(text, self._limits, decimal_mark=self._mark)

    def _temperature(self, text: str) -> Reading:
        return read_temperature(text, self._limits, decimal_mark=self._mark)

    def _gestation(self, text: str) -> Reading:
        return read_gestation(text, self._limits)

    def _minutes(self, text: str) -> Reading:
        return read_duration(text, self._limits, decimal_mark=self._mark)

    def _age_h(self, cell: str) -> float:
        found = [one.value for one in readings(tidy(cell), self._mark) if one.is_usual]
        if not self.column.unit:
            raise InputError(_no_unit(self.column, None))
        if len(found) != 1 or found[0] < 0:
            raise InputError(_not_a(cell, "an age", f"a number of {self.column.unit}"))
        return float(found[0]) * HOURS_PER[self.column.unit]

    def _count(self, cell: str) -> int:
        whole = _WHOLE.fullmatch(tidy(cell))
        if whole is None or len(whole[1]) > 3:
            raise InputError(_not_a(cell, "a count", "a whole number, 0 for none"))
        return int(whole[1])

    def _word(self, cell: str) -> str:
        words = _BY_WORD[self.column.field]
        meant = words.get(cell.casefold().strip())
        if meant is None:
            known = ", ".join(_WORDS[self.column.field])
            raise InputError(_not_a(cell, f"a {self.column.field.value}", f"one of {known}"))
        return meant


def _not_a(cell: str, kind: str, form: str) -> Problem:
    return Problem(
        code="CSV-024",
        what=f"'{cell[:40]}'",
        why=f"cannot be read as {kind}.",
        fix=f"Write {form}; leave the cell empty where it was not asked.",
    )


def _no_unit(column: Column, doubt: Problem | None) -> Problem:
    return Problem(
        code="CSV-025",
        what=doubt.what if doubt else f"The column '{column.header}'",
        why="does not say its unit." if doubt is None else doubt.why,
        fix=f"Say the unit of the column: {', '.join(UNITS[column.field])}.",
    )
