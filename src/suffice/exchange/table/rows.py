"""Rows of a table into the facts that they tell: when, of whom, what."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Literal, cast
from zoneinfo import ZoneInfo

import msgspec

from suffice.clinical.entry import (
    KINDS,
    AnyFact,
    Basis,
    Birth,
    Fact,
    Feed,
    Note,
    Stool,
    TestWeight,
    Wet,
)
from suffice.clinical.entry import field as declared
from suffice.clinical.entry.field import fields_of, is_required
from suffice.clinical.reading.reading import ReadingLimits
from suffice.errors import InputError, Problem
from suffice.exchange.moment import has_offset, instant, parted, read_date, read_moment, read_time
from suffice.exchange.table.cells import CellReader
from suffice.exchange.table.columns import DECLARED, Column, Field
from suffice.exchange.table.file import Row, is_missing
from suffice.exchange.table.options import Conventions, CsvOptions, by_field
from suffice.exchange.table.times import day_and_clock
from suffice.language.facts import part_of, parts_of
from suffice.message import Day, Listed, Message, Number, Words, message


class RowFacts(msgspec.Struct, kw_only=True):
    """What one row tells. `family` and `infant` are the texts of those columns, '' without one.

    Either `true_at` is known, or `age_h` since a birth that stands elsewhere.
    """

    number: int
    family: str = ""
    infant: str = ""
    true_at: datetime | None = None
    age_h: float | None = None
    born_at: datetime | None = None
    birth: dict[str, Any] = {}
    facts: tuple[tuple[AnyFact, Basis], ...] = ()
    device: str | None = None
    problems: list[Problem] = []

    def summary(self, zone: str) -> tuple[Words, ...]:
        """What the row tells, in short words for a preview; local times of `zone`."""

        def local(at: datetime) -> Words:
            there = at.astimezone(ZoneInfo(zone))
            day = Day(there.date(), year=True)
            return message("{day}, {time}", day=day, time=f"{there:%H:%M %Z}")

        words: list[Words] = []
        if self.family:
            words.append(message("family {name}", name=self.family))
        if self.infant:
            words.append(message("infant {name}", name=self.infant))
        if self.born_at is not None:
            words.append(message("born {at}", at=local(self.born_at)))
        of_birth = fields_of(Birth)
        words += [
            message("{field}: {value}", field=of_birth[name].label, value=part)
            for name, value in self.birth.items()
            if (part := part_of(of_birth[name], value))
        ]
        if self.true_at is not None:
            words.append(local(self.true_at))
        elif self.age_h is not None:
            words.append(message("age {hours} h", hours=Number(self.age_h)))
        words += [
            message("{kind}: {parts}", kind=fact.declared.name, parts=Listed(parts_of(fact)))
            for fact, _ in self.facts
        ]
        return tuple(words)


BIRTH_FIELDS = {
    Field.SEX: "sex",
    Field.GESTATION: "gestation_days",
    Field.BIRTH_WEIGHT: "birth_weight_g",
}


_MILKS: dict[str, Literal["expressed", "donor", "formula"]] = {
    Field.EXPRESSED: "expressed",
    Field.DONOR: "donor",
    Field.FORMULA: "formula",
}


class RowReader:
    """Reads the rows of one table whose columns and conventions are settled."""

    def __init__(
        self,
        columns: Iterable[Column],
        conventions: Conventions,
        options: CsvOptions,
        limits: ReadingLimits,
    ) -> None:
        self._columns = by_field(columns)
        self._conventions = conventions
        self._options = options
        self._readers = {
            field: CellReader(column, limits, conventions.decimal_mark)
            for field, column in self._columns.items()
        }
        times = {Field.MOMENT, Field.DATE, Field.TIME}
        births = {Field.BIRTH_MOMENT, Field.BIRTH_DATE, Field.BIRTH_TIME}
        self._value_fields = [field for field in self._columns if field not in times | births]

    def read(self, row: Row) -> RowFacts:
        """What the row tells, with every problem that it has."""
        made = RowFacts(number=row.number, problems=[])
        values = self._values(row, made.problems)
        made.family = values.get(Field.FAMILY, "")
        if Field.FAMILY in self._columns and not made.family:
            made.problems.append(_no_family().at(self._where(row, Field.FAMILY)))
        made.infant = values.get(Field.INFANT, "")
        if Field.INFANT in self._columns and not made.infant:
            made.problems.append(_no_infant().at(self._where(row, Field.INFANT)))
        made.device = values.get(Field.DEVICE)
        made.age_h = values.get(Field.AGE)
        made.born_at = self._when(row, Field.BIRTH_MOMENT, Field.BIRTH_DATE, Field.BIRTH_TIME, made)
        made.true_at = self._when(row, Field.MOMENT, Field.DATE, Field.TIME, made)
        made.birth = {
            name: values[field] for field, name in BIRTH_FIELDS.items() if field in values
        }
        made.facts = tuple(self._facts(row, values, made.problems))
        if made.facts and made.true_at is None and made.age_h is None and not made.problems:
            made.problems.append(_no_moment().at(message("row {number}", number=row.number)))
        return made

    def _where(self, row: Row, field: str) -> Message:
        return message(
            "row {number}, {field}", number=row.number, field=self._columns[field].header
        )

    def _cell(self, row: Row, field: str) -> str:
        column = self._columns.get(field)
        cell = row.cells[column.index] if column is not None else ""
        return "" if is_missing(cell) else cell

    def _values(self, row: Row, problems: list[Problem]) -> dict[str, Any]:
        values = {}
        for field in self._value_fields:
            cell = self._cell(row, field)
            if cell:
                try:
                    values[field] = self._value(field, cell)
                except InputError as error:
                    problems += [one.at(self._where(row, field)) for one in error.problems]
        return values

    def _value(self, field: str, cell: str) -> Any:
        if field in DECLARED and isinstance(DECLARED[field].field, declared.Moment):
            return self._moment(cell)
        return self._readers[field].read(cell)

    def _when(self, row: Row, moment: str, day: str, clock: str, made: RowFacts) -> datetime | None:
        """The instant that a row gives for itself or for the birth; None where it gives none."""
        field = moment if self._cell(row, moment) else day
        cell = self._cell(row, field)
        if not cell:
            return None
        try:
            if field == moment:
                return self._moment(cell)
            return self._day_and_clock(cell, self._cell(row, clock))
        except InputError as error:
            made.problems += [one.at(self._where(row, field)) for one in error.problems]
            return None

    def _moment(self, cell: str) -> datetime:
        if not parted(cell)[1]:
            return self._day_and_clock(cell, "")
        options = self._options
        return read_moment(cell, options.zone, self._conventions.date_order, options.repeated_hour)

    def _day_and_clock(self, day: str, clock: str) -> datetime:
        options, order = self._options, self._conventions.date_order
        day, clock = day_and_clock(day, clock, order)
        if has_offset(f"{day} {clock}"):
            return read_moment(f"{day} {clock}", options.zone, order, options.repeated_hour)
        on = read_date(day, order)
        at = read_time(clock) if clock else self._conventions.time_of_day
        if at is None:
            raise InputError(_no_clock())
        return instant(on, at, options.zone, options.repeated_hour)

    def _facts(
        self, row: Row, values: Mapping[str, Any], problems: list[Problem]
    ) -> Iterable[tuple[AnyFact, Basis]]:
        tells: tuple[Callable[[Mapping[str, Any]], Iterable[tuple[AnyFact, Basis]]], ...]
        tells = (
            partial(_declared_facts, unread=bool(problems)),
            self._output,
            _test_weight,
            _feeds,
        )
        for tell in tells:
            try:
                yield from tell(values)
            except InputError as error:
                problems += [
                    one.at(message("row {number}", number=row.number)) for one in error.problems
                ]

    def _output(self, values: Mapping[str, Any]) -> Iterable[tuple[AnyFact, Basis]]:
        if Field.WETS in values:
            count = values[Field.WETS]
            yield Wet(count=count, over_h=self._over_h(Field.WETS)), Basis.REPORTED
        if Field.STOOLS in values or Field.COLOUR in values:
            count = values.get(Field.STOOLS, 1)
            colour = values.get(Field.COLOUR)
            yield (
                Stool(count=count, over_h=self._over_h(Field.STOOLS), colour=colour),
                Basis.REPORTED,
            )

    def _over_h(self, field: str) -> float | None:
        column = self._columns.get(field)
        if column is None:
            return None
        return column.over_h or self._options.over_h


BY_RULES = (Birth, TestWeight, Feed, Wet, Stool)
"""Kinds that share columns, or of which one column makes more than one entry."""
BASES: dict[type[Fact], Basis] = {Note: Basis.REPORTED}
"""How what a table says is known, where it is not as the kind is usually known."""


class _Shape(msgspec.Struct, frozen=True, kw_only=True):
    """A kind with the columns of its fields, and those of them that it cannot be without."""

    kind: type[Fact]
    columns: tuple[tuple[str, str], ...]
    required: tuple[str, ...]


def _shapes() -> Iterator[_Shape]:
    for kind in KINDS.values():
        named = {
            field.column.partition("|")[0]: name
            for name, field in fields_of(kind).items()
            if field.column
        }
        if named and kind not in BY_RULES:
            required = tuple(one for one, name in named.items() if is_required(kind, name))
            yield _Shape(kind=kind, columns=tuple(named.items()), required=required)


SHAPES = tuple(_shapes())
"""Every kind that is made from its columns alone."""


def _declared_facts(values: Mapping[str, Any], *, unread: bool) -> Iterable[tuple[AnyFact, Basis]]:
    """A fact of each kind of which some column is filled in.

    Where a cell of the row could not be read, that was said already, and nothing is missed.
    """
    for shape in SHAPES:
        filled = {name: values[column] for column, name in shape.columns if column in values}
        if not filled:
            continue
        if lacking := [column for column in shape.required if column not in values]:
            if unread:
                continue
            raise InputError(_half_a_fact(shape.kind, lacking))
        fact = cast("AnyFact", shape.kind(**filled))
        yield fact, BASES.get(shape.kind, Basis(shape.kind.declared.basis))


def _test_weight(values: Mapping[str, Any]) -> Iterable[tuple[AnyFact, Basis]]:
    before, after = values.get(Field.BEFORE_FEED), values.get(Field.AFTER_FEED)
    if before is None and after is None:
        return
    if before is None or after is None:
        raise InputError(_half_test_weight())
    minutes, side = values.get(Field.MINUTES), values.get(Field.SIDE)
    yield TestWeight(before_g=before, after_g=after, minutes=minutes, side=side), Basis.MEASURED


def _feeds(values: Mapping[str, Any]) -> Iterable[tuple[AnyFact, Basis]]:
    for field, milk in _MILKS.items():
        if values.get(field, 0.0) > 0:  # 0 says that none was given, which is no feed
            yield Feed(milk=milk, volume_ml=values[field]), Basis.REPORTED
    if Field.BEFORE_FEED in values:
        return  # minutes and side belong to the test weight
    side, minutes = values.get(Field.SIDE), values.get(Field.MINUTES)
    of_milk = values.get(Field.MILK, "breast" if side is not None else None)
    volume = values.get(Field.VOLUME)
    if of_milk is None and volume is None and minutes is None:
        return
    if of_milk is None:
        raise InputError(_feed_of_what())
    yield Feed(milk=of_milk, side=side, volume_ml=volume, minutes=minutes), Basis.REPORTED


def at_age(born_at: datetime, age_h: float) -> datetime:
    """The instant at which an infant has an age; elapsed hours, whatever the clocks do."""
    return born_at + timedelta(hours=age_h)


def _no_family() -> Problem:
    return Problem(
        code="CSV-052",
        what=message("The row does not say which family it is about."),
        why=message("The file has a column for that."),
        fix=message("Fill in the cell."),
    )


def _no_infant() -> Problem:
    return Problem(
        code="CSV-040",
        what=message("The row does not say which infant it is about."),
        why=message("The file has a column for that."),
        fix=message("Fill in the cell."),
    )


def _no_moment() -> Problem:
    return Problem(
        code="CSV-041",
        what=message("The row has values and does not say when they were true."),
        why=message("Its date, time and age are empty."),
        fix=message("Fill in the date and the time, or the age."),
    )


def _no_clock() -> Problem:
    return Problem(
        code="CSV-041",
        what=message("The row has a date and no time of day."),
        why=message("In the first days hours count, so a time is not made up."),
        fix=message("Fill in the time, or say at what local time such dates are to be taken."),
    )


def _half_test_weight() -> Problem:
    return Problem(
        code="CSV-042",
        what=message("The row has one of the two weights of a test weight."),
        why=message("Only their difference tells what was taken."),
        fix=message("Fill in the other one, or leave both empty."),
    )


def _half_a_fact(kind: type[Fact], lacking: list[str]) -> Problem:
    return Problem(
        code="CSV-048",
        what=message(
            "The row has {kind} and leaves open: {lacking}.",
            kind=kind.declared.name,
            lacking=", ".join(lacking),
        ),
        why=message("It cannot be stored without this."),
        fix=message("Fill in the cell, or leave all cells of this entry empty."),
    )


def _feed_of_what() -> Problem:
    return Problem(
        code="CSV-043",
        what=message("The row has a feed and does not say of which milk."),
        why=message("At the breast, expressed milk, donor milk and formula are different feeds."),
        fix=message("Fill in the milk, or the side for a feed at the breast."),
    )
