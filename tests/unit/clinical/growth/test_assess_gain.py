from __future__ import annotations

import math

import msgspec
import pytest

from growth_constants import VELOCITY
from spoken import text
from suffice.clinical.growth import increments, velocity
from suffice.clinical.growth.assess_gain import increment_centile, velocity_z
from suffice.errors import InputError, RefusalError
from suffice.knowledge.tables import growth_standards

STANDARD = growth_standards().velocity
INCREMENTS = growth_standards().increments


def z_of(start_d: float, end_d: float, gain_g: float, sex: str | None = "male") -> float:
    figure = velocity_z(STANDARD, VELOCITY, sex, start_d=start_d, end_d=end_d, gain_g=gain_g)
    return figure.value


def test_the_median_gain_of_the_first_four_weeks_has_score_zero() -> None:
    # WHO 2009, 1-month increments: medians 1023 g (boys) and 879 g (girls), 0 to 4 weeks.
    assert abs(z_of(0, 28, 1023)) < 0.005
    assert abs(z_of(0, 28, 879, "female")) < 0.005


def test_a_gain_over_a_day_more_is_taken_to_the_length_of_the_interval() -> None:
    assert z_of(0, 29, 1023 * 29 / 28) == pytest.approx(z_of(0, 28, 1023))


def test_one_and_two_month_intervals_are_told_apart_by_their_ends() -> None:
    assert velocity.nearest_interval(STANDARD, 0, 28, 4) == 0
    two_months = velocity.nearest_interval(STANDARD, 0.4, 60, 4)
    assert two_months is not None
    assert STANDARD.months[two_months] == 2


@pytest.mark.parametrize(
    ("start_d", "end_d"), [(0, 14), (10, 38), (28, 0), (0, 33), (3, 28), (0.6, 28), (-0.1, 28)]
)
def test_an_interval_that_was_not_published_is_refused(start_d: float, end_d: float) -> None:
    with pytest.raises(RefusalError, match="GROWTH-005"):
        z_of(start_d, end_d, 500)


def test_a_loss_beyond_the_shift_has_no_score() -> None:
    with pytest.raises(RefusalError, match="GROWTH-004"):
        z_of(0, 28, -401)


def test_velocity_needs_a_sex_and_a_number() -> None:
    with pytest.raises(RefusalError, match="GROWTH-001"):
        z_of(0, 28, 900, None)
    with pytest.raises(InputError, match="GROWTH-002"):
        z_of(0, 28, math.nan)


def test_the_working_of_a_velocity_gives_it_again() -> None:
    figure = velocity_z(STANDARD, VELOCITY, "female", start_d=29, end_d=60, gain_g=800)
    value = {c.key.rsplit(".", 1)[1]: c.value for c in figure.working.constants}
    scaled_g = 800 * (61 - 28) / 31
    again = ((scaled_g + value["shift"]) / value["shifted_median"]) ** value["skew"] - 1
    assert again / (value["skew"] * value["cv"]) == pytest.approx(figure.value)


def centile_of(gain_g: float, birth_weight_g: float | None = 3200, **ages: float):
    ages = {"start_d": 7, "end_d": 14} | ages
    return increment_centile(
        INCREMENTS, VELOCITY, "male", birth_weight_g=birth_weight_g, gain_g=gain_g, **ages
    )


@pytest.mark.parametrize(
    ("gain_g", "at_or_above", "below"),
    [(-60, None, 5), (-50, 5, 10), (49, 5, 10), (50, 10, 25), (249, 25, 50), (250, 50, None)],
)
def test_a_gain_lies_between_its_published_neighbours(
    gain_g: float, at_or_above: int | None, below: int | None
) -> None:
    # WHO 2009, boys of 3000 to 3500 g, day 7 to 14: 5th -50, 10th 50, 25th 150, median 250 g.
    found = centile_of(gain_g)
    assert (found.bracket.at_or_above, found.bracket.below) == (at_or_above, below)
    assert found.median.value == 250
    assert found.children == 141
    shown = f"{gain_g}".replace("-", "\N{MINUS SIGN}")
    assert text(found.sentence).startswith(f"{shown} g from day 7 to 14: ")


def test_a_gain_is_taken_to_the_length_of_the_interval_before_it_is_compared() -> None:
    assert centile_of(240, end_d=13.5).bracket.at_or_above == 50  # 240 g in 6.5 days


def test_a_gain_from_birth_is_compared_as_it_is_and_needs_the_birth_weight() -> None:
    # Boys of 3000 to 3500 g, day 0 to 7: 5th -250, 10th -150, 25th 0, median 150 g.
    found = centile_of(-140, start_d=0, end_d=6.5)
    assert (found.bracket.at_or_above, found.bracket.below) == (10, 25)
    with pytest.raises(RefusalError, match="GROWTH-005"):
        centile_of(100, start_d=0.9, end_d=7)


@pytest.mark.parametrize("birth_weight_g", [2499, 2000, 1999])
def test_a_group_with_too_few_children_is_refused(birth_weight_g: float) -> None:
    with pytest.raises(RefusalError, match="GROWTH-006"):
        centile_of(200, birth_weight_g)


def test_all_infants_together_are_had_without_a_birth_weight() -> None:
    assert centile_of(200, None).children == 381


def test_a_birth_weight_on_a_border_belongs_to_the_heavier_group() -> None:
    row = increments.find_row(INCREMENTS, True, 7, 14, 3500)
    assert row is not None
    assert (row.from_g, row.below_g) == (3500, 4000)
    heaviest = increments.find_row(INCREMENTS, True, 7, 14, 5200)
    assert heaviest is not None
    assert heaviest.from_g == 4000


@pytest.mark.parametrize(("start_d", "end_d"), [(7, 21), (14, 7), (0, 60), (9, 16)])
def test_other_intervals_have_no_centiles(start_d: float, end_d: float) -> None:
    with pytest.raises(RefusalError, match="GROWTH-005"):
        centile_of(200, start_d=start_d, end_d=end_d)


def test_every_published_row_has_rising_centiles_and_all_60_are_there() -> None:
    assert len(INCREMENTS.rows) == 60
    for row in INCREMENTS.rows:
        gains = [row.gain_g[c] for c in INCREMENTS.centiles if c in row.gain_g]
        assert gains == sorted(gains)
        assert set(row.gain_g) == set(row.gain_g_per_day)
    blank = [row for row in INCREMENTS.rows if increments.missing_centiles(INCREMENTS, row)]
    assert {(row.from_g, row.below_g) for row in blank} == {(2000, 2500)}
    assert len(blank) == 10


def test_an_interval_is_answered_up_to_and_with_the_tolerance() -> None:
    assert velocity.nearest_interval(STANDARD, 0, 32, 4) == 0
    assert velocity.nearest_interval(STANDARD, 0, 32.01, 4) is None
    assert velocity.nearest_interval(STANDARD, 24, 65, 4) == 1


@pytest.mark.parametrize(
    ("birth_weight_g", "group"),
    [
        (None, "all birth weights"),
        (3200, "birth weight 3000 g to below 3500 g"),
        (4200, "birth weight from 4000 g"),
    ],
)
def test_the_working_names_the_group_of_the_table(birth_weight_g: float | None, group: str) -> None:
    constants = centile_of(100, birth_weight_g).median.working.constants
    assert all(group in str(one.locator) for one in constants)


def test_a_group_open_below_begins_at_nothing() -> None:
    rows = tuple(
        msgspec.structs.replace(row, from_g=None) if row.from_g == 2500 else row
        for row in INCREMENTS.rows
    )
    found = increment_centile(
        msgspec.structs.replace(INCREMENTS, rows=rows),
        VELOCITY,
        "male",
        start_d=7,
        end_d=14,
        birth_weight_g=2700,
        gain_g=100,
    )
    assert "birth weight 0 g to below 3000 g" in str(found.median.working.constants[0].locator)
