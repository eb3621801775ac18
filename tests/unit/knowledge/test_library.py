"""The content as rows that a reader can check: value in force, source, range, dates, disagreement."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import content_folder
from suffice.knowledge.library import LibraryRow, library
from suffice.knowledge.store import Content, load, load_folder

COLOURS = """
[sixth_g]
axis = "age_h"
points = [[0, ["black", "green"]], [10, ["yellow"]]]
until = 20
unit = "g"
basis = "common practice"
applies_to = "nobody"
note = "Everybody does so; no source."
"""
ADULTS = """
[topic]
title = "Adults"
says = "Weights of adults."
effective_from = 2026-01-01
review_by = 2027-01-01

[heavy_g]
value = 10
unit = "g"
basis = "judgement"
judged_by = "the authors"
judged_on = 2026-11-25
applies_to = "adults"
note = "They are heavy."
not_for = "infants"
review_by = 2026-12-31
"""


@pytest.fixture
def content(tmp_path: Path) -> Content:
    changes = (("weights.toml", "", COLOURS), ("adults.toml", "", ADULTS))
    return load_folder(content_folder.write(tmp_path, *changes))


def row_of(content: Content, key: str) -> LibraryRow:
    (row,) = (row for row in library(content) if row.key == key)
    return row


def test_the_library_has_a_row_for_each_entry_with_its_value_in_force(content: Content) -> None:
    rows = {row.key: row for row in library(content.with_overrides({"weights.first_g": 12}))}
    assert set(rows) == set(content.entries)
    first = rows["weights.first_g"]
    assert (first.value, first.overridden_from) == ("12", "10")
    assert first.is_chosen
    assert rows["weights.third_g"].value == "0: 10; 10: 30"
    assert rows["weights.second_g"].formula == "a + b"


def test_the_library_shows_words_by_position(content: Content) -> None:
    (row,) = (row for row in library(content) if row.key == "weights.sixth_g")
    assert row.value == "0: black, green; 10: yellow"
    assert (row.overridden_from, row.low, row.high) == ("", None, None)


def test_rows_stand_by_the_title_of_their_topic_and_then_as_written(content: Content) -> None:
    keys = [row.key for row in library(content)]
    # The file of adults.toml is read first or last; 'Adults' goes before 'Weights' either way.
    assert keys == [
        "adults.heavy_g",
        *(f"weights.{name}_g" for name in ("first", "second", "third", "fourth", "fifth", "sixth")),
    ]


def test_a_row_carries_what_its_author_wrote(content: Content) -> None:
    first = row_of(content, "weights.first_g")
    assert (first.topic, first.topic_title, first.unit) == ("weights", "Weights", "g")
    assert (first.basis, first.read, first.source) == ("published", "abstract", "A & B 2020, J 1:2")
    assert (first.locator, first.says, first.doi) == ("table 1", "10 (5 to 20)", "")
    assert (first.low, first.high) == (5, 20)
    assert first.review_by == date(2027, 1, 1)


def test_an_entrys_own_dates_and_exclusions_go_before_those_of_its_topic(content: Content) -> None:
    own = row_of(content, "adults.heavy_g")
    assert (own.effective_from, own.review_by) == (date(2026, 1, 1), date(2026, 12, 31))
    assert (own.applies_to, own.not_for) == ("adults", "infants")
    assert own.source == "judgement of the authors"


def test_an_uncited_value_has_no_place_in_a_source_and_none_is_made_up(content: Content) -> None:
    third = row_of(content, "weights.third_g")
    assert (third.locator, third.says, third.doi, third.read) == ("", "", "", "")
    assert third.source == "common practice, no source"


def test_a_series_has_no_range_of_its_own(content: Content) -> None:
    assert (row_of(content, "weights.third_g").low, row_of(content, "weights.third_g").high) == (
        None,
        None,
    )


def test_of_a_disagreement_one_side_is_chosen(content: Content) -> None:
    rows = {row.key: row.is_chosen for row in library(content)}
    assert rows["weights.first_g"]
    assert not rows["weights.second_g"]
    assert not rows["weights.third_g"]


def test_a_clinics_choice_moves_the_mark(content: Content) -> None:
    other = content.with_choices({"heaviest": "weights.second_g"})
    assert row_of(other, "weights.second_g").is_chosen
    assert not row_of(other, "weights.first_g").is_chosen


def test_a_derived_value_that_follows_a_clinics_own_says_what_it_was(content: Content) -> None:
    own = content.with_overrides({"weights.first_g": 12})
    assert (
        row_of(own, "weights.second_g").value,
        row_of(own, "weights.second_g").overridden_from,
    ) == (
        "24",
        "20",
    )
    assert row_of(own, "weights.fourth_g").value == "0: 22; 10: 42"
    assert row_of(own, "weights.fourth_g").overridden_from == "20; 40"
    assert row_of(own, "weights.third_g").overridden_from == ""


def test_the_shipped_content_has_a_row_for_every_value_and_each_says_where_it_is_from() -> None:
    rows = library(load())
    assert len(rows) == len(load().entries)
    assert [row.key for row in rows if not (row.source and row.value and row.basis)] == []
    assert [row.topic_title for row in rows] == sorted(row.topic_title for row in rows)
