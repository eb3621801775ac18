"""A fact whose fields have columns, written into a table, comes out of it unchanged."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import csv_case
from strategies import FACTS
from suffice.clinical.entry import KINDS, Fact
from suffice.clinical.entry.field import Answered, Field, Measured, default_of, fields_of
from suffice.clinical.reading.quantity import QUANTITIES
from suffice.exchange.table.columns import DECLARED, FIELDS, UNITS
from suffice.exchange.table.file import is_missing
from suffice.exchange.table.rows import SHAPES
from sweeps import drawn

ZONE = ZoneInfo("Europe/Madrid")


def cell(value: Any, field: Field) -> str:
    """One value as somebody would write it into a table."""
    if isinstance(field, Measured):
        exact = f"{Decimal(repr(float(value))):f}".removesuffix(".0")
        return f"{exact} {QUANTITIES[field.quantity].units[0].sign}"
    if isinstance(field, Answered):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat()
    return str(value)


def table_of(fact: Fact) -> tuple[str, dict[str, Any]]:
    """A table with the fact in its one row, and what of the fact is in it."""
    kept = {
        name: (field.column.partition("|")[0], cell(getattr(fact, name), field))
        for name, field in fields_of(type(fact)).items()
        if field.column and getattr(fact, name) is not None
    }
    written = io.StringIO()
    rows = csv.writer(written)
    rows.writerow(["date and time", *(column for column, _ in kept.values())])
    rows.writerow(["2026-03-02 10:00", *(text for _, text in kept.values())])
    return written.getvalue(), {name: getattr(fact, name) for name in kept}


@pytest.mark.parametrize("kind", [one.kind for one in SHAPES], ids=lambda kind: kind.__name__)
@given(data=st.data())
@settings(max_examples=drawn(100))
def test_a_table_gives_back_the_fact_that_was_written_into_it(
    kind: type[Fact], data: st.DataObject
) -> None:
    fact = data.draw(FACTS[kind])
    text, kept = table_of(fact)
    texts = [value for value in kept.values() if isinstance(value, str)]
    assume(not any(is_missing(one) or one != one.strip() or not one.isprintable() for one in texts))
    assume("no_longer_known" not in texts)  # a key that only a record may hold
    told = csv_case.facts(text, zone=ZONE.key)
    left_out = {one: default_of(kind, one) for one in fields_of(kind) if one not in kept}
    assert told == [msgspec.structs.replace(fact, **left_out)]


def test_no_two_kinds_that_are_made_from_their_columns_share_one() -> None:
    of_shapes = {one.kind for one in SHAPES}
    claims: dict[str, list[type[Fact]]] = {}
    for kind in KINDS.values():
        for field in fields_of(kind).values():
            for name in field.column.split("|") if field.column else ():
                claims.setdefault(name, []).append(kind)
    shared = [
        f"{name}: {', '.join(kind.__name__ for kind in kinds)}"
        for name, kinds in claims.items()
        if len(kinds) > 1 and of_shapes.intersection(kinds)
    ]
    assert not shared, (
        "A table could not tell whose column it is; rename one of each:\n" + "\n".join(shared)
    )
    assert set(DECLARED) <= set(FIELDS)


def test_every_measured_column_says_its_units() -> None:
    for first, one in DECLARED.items():
        if isinstance(one.field, Measured):
            quantity = QUANTITIES[one.field.quantity]
            assert UNITS[first] == tuple(unit.sign for unit in quantity.units)
