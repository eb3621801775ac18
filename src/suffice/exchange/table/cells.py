"""One cell of a table, read as the value of its field, or refused with the reason.

Reading is remembered per column: a file of fifty thousand rows holds few different texts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any, get_args

from suffice.clinical.entry.field import Answered, Chosen, Counted, Measured
from suffice.clinical.entry.field import Listed as ListedField
from suffice.clinical.reading.candidate import Reading
from suffice.clinical.reading.numeral import DecimalMark, readings, tidy
from suffice.clinical.reading.reading import Habits, ReadingLimits, read_quantity
from suffice.errors import InputError, Problem
from suffice.exchange.table.columns import DECLARED, UNITS, Column, Field, meaning
from suffice.knowledge.policy import Language
from suffice.language.catalogue import translated
from suffice.language.terms import key_of
from suffice.message import Listed, Message, Words, message

HOURS_PER = {"hours": 1.0, "days": 24.0, "weeks": 168.0}
AGES = {
    "hours": message("a number of hours"),
    "days": message("a number of days"),
    "weeks": message("a number of weeks"),
}

_WORDS: dict[str, dict[str, str]] = {
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
YES = "yes y true 1 sí si"
NO = "no n false 0"


def _names(words: Words) -> list[str]:
    """What something is called in each language, in small letters."""
    if isinstance(words, str):
        return [words.casefold()]
    return [translated(words.template, one).casefold() for one in get_args(Language)]


def _by_word(field: str) -> dict[str, Any]:
    """What may stand in a cell of a field that is chosen or answered, with what it means."""
    one = DECLARED[field].field
    found: dict[str, Any] = {}
    if isinstance(one, Answered):
        for meant, words, called in ((True, YES, one.choices[0]), (False, NO, one.choices[1])):
            found |= dict.fromkeys((*words.split(), *_names(called)), meant)
    if isinstance(one, Chosen):
        for value, called in one.choices:
            spelt = _WORDS.get(field, {}).get(value, "").split()
            found |= dict.fromkeys((value, *_names(called), *spelt), value)
    return found


_WHOLE = re.compile(r"(\d+)(?:[.,]0+)?")
_COMMA = re.compile(r"\d+,(?:\d{1,2}|\d{4,})")
_POINT = re.compile(r"\d+\.(?:\d{1,2}|\d{4,})")
_BARE = re.compile(r"[\d.,' ]+")


def decimal_mark(cells: Iterable[str]) -> tuple[DecimalMark | None, Words]:
    """The mark before decimals in a file's numbers, and a cell that shows it.

    Returns:
        None with two cells where both marks are used; '.' with '' where no cell shows one.
    """
    comma = point = ""
    for cell in cells:
        comma = comma or (cell if _COMMA.fullmatch(cell) else "")
        point = point or (cell if _POINT.fullmatch(cell) else "")
        if comma and point:
            return None, message("'{point}' and '{comma}'", point=point, comma=comma)
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
        if field == Field.AGE:
            return self._age_h
        if field in UNITS:
            return self._measured(self._quantity())
        one = DECLARED[field].field if field in DECLARED else None
        if isinstance(one, Counted):
            return self._count
        if isinstance(one, ListedField):
            return self._listed(one.vocabulary)
        if isinstance(one, Chosen | Answered):
            words = _by_word(field)
            return lambda cell: self._word(cell, words)
        return str

    def _quantity(self) -> str:
        """The quantity of a column that has units."""
        one = DECLARED.get(self.column.field, DECLARED[Field.VOLUME]).field
        return one.quantity if isinstance(one, Measured) else ""

    def _measured(self, quantity: str) -> Callable[[str], Any]:
        habits = Habits(decimal_mark=self._mark)

        def read(cell: str) -> float:
            text = self._with_unit(cell)
            return self._clear(read_quantity(quantity, text, self._limits, habits))

        if quantity == "gestation":
            return lambda cell: round(read(cell))  # whole days
        return read

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

    def _age_h(self, cell: str) -> float:
        found = [one.value for one in readings(tidy(cell), self._mark) if one.is_usual]
        if not self.column.unit:
            raise InputError(_no_unit(self.column, None))
        if len(found) != 1 or found[0] < 0:
            raise InputError(_not_a(cell, message("an age"), AGES[self.column.unit]))
        return float(found[0]) * HOURS_PER[self.column.unit]

    def _count(self, cell: str) -> int:
        whole = _WHOLE.fullmatch(tidy(cell))
        if whole is None or len(whole[1]) > 3:
            raise InputError(
                _not_a(cell, message("a count"), message("a whole number, 0 for none"))
            )
        return int(whole[1])

    def _listed(self, vocabulary: str) -> Callable[[str], str]:
        def read(cell: str) -> str:
            key = key_of(vocabulary, cell)
            if key is None:
                field = self.column.field
                raise InputError(
                    _not_a(cell, a_value(field), message("its name as the form has it, or its key"))
                )
            return key

        return read

    def _word(self, cell: str, words: dict[str, Any]) -> Any:
        meant = words.get(cell.casefold().strip())
        if meant is None:
            known = Listed(tuple(dict.fromkeys(map(_shown, words.values()))))
            raise InputError(
                _not_a(cell, a_value(self.column.field), message("one of {known}", known=known))
            )
        return meant


def _shown(value: object) -> str:
    return (
        {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)
    )


def a_value(field: str) -> Message:
    """A value of a column of this field."""
    return message("a value of {field}", field=meaning(field))


def _not_a(cell: str, kind: Words, form: Words) -> Problem:
    return Problem(
        code="CSV-024",
        what=message("'{text}'", text=cell[:40]),
        why=message("cannot be read as {kind}.", kind=kind),
        fix=message("Write {form}; leave the cell empty where it was not asked.", form=form),
    )


def _no_unit(column: Column, doubt: Problem | None) -> Problem:
    return Problem(
        code="CSV-025",
        what=doubt.what if doubt else message("The column '{name}'", name=column.header),
        why=message("does not say its unit.") if doubt is None else doubt.why,
        fix=message("Say the unit of the column: {units}.", units=Listed(UNITS[column.field])),
    )
