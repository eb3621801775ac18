"""Which published row a gain is compared with, and between which centiles it lies."""

from __future__ import annotations

import msgspec
import pytest

from suffice.clinical.growth.increments import bracket, find_row, missing_centiles
from suffice.knowledge.tables import growth_standards

STANDARD = growth_standards().increments


# WHO 2009, weight increments by birth weight, boys, day 7 to 14.
@pytest.mark.parametrize(
    ("birth_weight_g", "from_g", "below_g"),
    [
        (None, None, None),
        (3499, 3000, 3500),
        (3500, 3500, 4000),
        (3999.9, 3500, 4000),
        (4000, 4000, None),
        (6000, 4000, None),
    ],
)
def test_a_birth_weight_on_a_border_belongs_to_the_heavier_group(birth_weight_g, from_g, below_g):
    row = find_row(STANDARD, True, 7, 14, birth_weight_g)
    assert row is not None
    assert (row.is_male, row.start_day, row.end_day) == (True, 7, 14)
    assert (row.from_g, row.below_g) == (from_g, below_g)


def test_boys_and_girls_have_rows_of_their_own():
    boys, girls = (find_row(STANDARD, is_male, 0, 7, None) for is_male in (True, False))
    assert boys is not None
    assert girls is not None
    assert boys.gain_g != girls.gain_g


@pytest.mark.parametrize("days", [(0, 14), (7, 28), (60, 90)])
def test_an_interval_that_was_not_published_has_no_row(days):
    assert find_row(STANDARD, True, *days, None) is None
    assert find_row(STANDARD, True, *days, 3200) is None


def test_a_standard_that_begins_above_a_birth_weight_has_no_row_for_it():
    heavy = tuple(row for row in STANDARD.rows if row.from_g is not None and row.from_g >= 3000)
    standard = msgspec.structs.replace(STANDARD, rows=heavy)
    assert find_row(standard, True, 7, 14, 2999) is None
    assert find_row(standard, True, 7, 14, 3000) is not None
    assert find_row(standard, True, 7, 14, None) is None


def test_at_a_published_centile_a_gain_is_at_it_and_below_the_next():
    # WHO 2009, boys of all birth weights, day 7 to 14: 5th -50, 10th 0, 25th 150, median 250 g.
    row = find_row(STANDARD, True, 7, 14, None)
    found = {gain: bracket(row, gain) for gain in (-51, -50, 0, 149, 250)}
    assert {gain: (one.at_or_above, one.below) for gain, one in found.items()} == {
        -51: (None, 5),
        -50: (5, 10),
        0: (10, 25),
        149: (10, 25),
        250: (50, None),
    }


def test_a_centile_that_was_not_published_for_a_small_group_is_named():
    row = find_row(STANDARD, True, 7, 14, None)
    assert missing_centiles(STANDARD, row) == ()
    fewer = msgspec.structs.replace(row, gain_g={10: 0.0, 50: 250.0})
    assert missing_centiles(STANDARD, fewer) == (5, 25)
