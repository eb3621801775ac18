"""Columns are known by their names, units included; the reader may say otherwise."""

from __future__ import annotations

import pytest

from suffice.errors import InputError
from suffice.exchange.table.columns import UNITS, Field, columns_of, guess


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("weight_g", "weight g"),
        ("weight_kg", "weight kg"),
        ("Weight (g)", "weight g"),
        ("WEIGHT [KG]", "weight kg"),
        ("WeightKg", "weight kg"),
        ("weight", "weight"),
        ("Peso (kg)", "weight kg"),
        ("weight lb", "weight lb"),
        ("temp_f", "temperature F"),
        ("Temp °C", "temperature C"),
        ("length_cm", "length cm"),
        ("Perímetro cefálico (cm)", "head cm"),
        ("HC", "head"),
        ("id", "infant"),
        ("gest_days", "gestation days"),
        ("GA (weeks)", "gestation weeks"),
        ("age_days", "age days"),
        ("age (h)", "age hours"),
        ("Date", "date"),
        ("Fecha y hora", "date and time"),
        ("DOB", "birth date"),
        ("Birth weight (g)", "birth weight g"),
        ("formula_ml", "formula mL"),
        ("EBM (oz)", "expressed milk oz"),
        ("volume mL", "volume mL"),
        ("wets_24h", "wets in 24 h"),
        ("wets in 12 hours", "wets in 12 h"),
        ("Stools / day", "stools in 24 h"),
        ("dirty diapers per day", "stools in 24 h"),
        ("feeds_24h", "feed count"),
        ("Feeds per day", "feed count"),
        ("tomas al día", "feed count"),
        ("feed count", "feed count"),
        ("feeds", "ignored"),
        ("feeds in 12 h", "ignored"),
        ("Stool colour", "stool colour"),
        ("pma_days", "ignored"),
        ("visit_week", "ignored"),
        ("weight_24h", "ignored"),
        ("", "ignored"),
        ("constructor", "ignored"),
    ],
)
def test_a_column_is_known_by_its_name(header, said):
    assert guess(header, 0).spelt == said


@pytest.mark.parametrize("field", list(Field))
def test_every_field_is_known_by_its_own_name_with_each_of_its_units(field):
    for unit in ("", *UNITS.get(field, ())):
        column = guess(f"{field.value} {unit}".strip(), 0)
        assert (column.field, column.unit) == (field, unit)


def test_what_a_column_means_is_said_in_words_that_are_read_back():
    for header in ("weight_kg", "wets_24h", "EBM (oz)", "gest_days"):
        column = guess(header, 0)
        again, _ = columns_of(["x", "note"], {"x": column.spelt})
        assert (again.field, again.unit, again.over_h) == (
            column.field,
            column.unit,
            column.over_h,
        )


def test_the_reader_has_the_last_word():
    first, second = columns_of(["wt1", "weight_g"], {"wt1": "weight kg", "weight_g": "ignored"})
    assert (first.spelt, first.header, first.is_guess) == ("weight kg", "wt1", False)
    assert second.field is Field.IGNORED


def test_an_age_is_left_aside_where_there_are_dates_unless_the_reader_wants_it():
    header = ["date", "age_days", "weight_g"]
    assert columns_of(header)[1].field is Field.IGNORED
    assert columns_of(header, {"age_days": "age days"})[1].field is Field.AGE


@pytest.mark.parametrize(
    ("header", "said", "expected"),
    [
        (["weight_g"], {"wieght": "weight kg"}, ["CSV-020"]),
        (["weight_g", "x"], {"x": "heaviness"}, ["CSV-021"]),
        (["weight_g", "x"], {"x": "weight stone"}, ["CSV-021"]),
        (["weight_g", "Weight (kg)"], {}, ["CSV-022"]),
        (["date", "sex"], {}, ["CSV-023"]),
        (["weight_g", "x"], {"x": "weight", "y": "age"}, ["CSV-020", "CSV-022"]),
    ],
)
def test_what_cannot_be_meant_is_refused(header, said, expected):
    with pytest.raises(InputError) as caught:
        columns_of(header, said)
    assert [problem.code for problem in caught.value.problems] == expected
