"""Growth of one infant against its standard: scores, velocity, fall, and what they could not be."""

from __future__ import annotations

import msgspec
import pytest

from spoken import text
from suffice.assess.review.gain import NO_WEIGHT_AFTER_BIRTH
from suffice.assess.review.growth import (
    GROWTH_FIGURES,
    NO_SIZE,
    review_corrected_age,
    review_growth,
    weight_rows,
)
from suffice.clinical.entry import Size, Wet
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, instant, present

BOY = "boy, 40+0, 3346 g, vaginal"
PRETERM = "girl, 32+0, 1700 g, vaginal"


def case_with(seen, asked_at, infant=BOY, sizes=()):
    """The case, with sizes in the places of single wets, in their order."""
    case, left = a_case(infant, seen, asked_at), list(sizes)
    entries = [
        msgspec.structs.replace(entry, fact=left.pop(0))
        if isinstance(entry.fact, Wet) and left
        else entry
        for entry in case.entries
    ]
    return msgspec.structs.replace(case, entries=tuple(entries))


def reviewed(seen, asked_at="30 d", infant=BOY, sizes=()):
    case = case_with(seen, asked_at, infant, sizes)
    return review_growth(case, PARAMETERS)


def rows_of(seen, asked_at="30 d", infant=BOY, p_wrong=None):
    return weight_rows(case_with(seen, asked_at, infant), PARAMETERS, p_wrong or {})


def z(review, name="z"):
    return round(review.figures[name].value, 2)


def test_without_a_birth_every_figure_says_why_it_is_not_there():
    review = reviewed("20 d: 3800 g", infant="nobody knows")
    assert set(review.not_computed) == set(GROWTH_FIGURES)
    assert review.figures == {}


def test_without_a_weight_after_birth_only_size_at_birth_is_scored():
    review = reviewed("10 h: wet")
    assert set(review.figures) == {"birth_z"}
    for name in ("z", "centile", "velocity_z", "centile_fall_spaces"):
        assert review.not_computed[name] == NO_WEIGHT_AFTER_BIRTH


# WHO 2006, weight for age of boys, day 28: median 4391 g (1 month, 4.4709 kg, is day 30.4).
def test_a_weight_on_the_median_has_score_zero_and_the_middle_centile():
    median = PARAMETERS.standards.who.by_age["weight"].at(True, 28)[0]
    review = reviewed(f"28 d: {median:.0f} g")
    assert z(review) == 0.0
    assert review.figures["centile"].value == pytest.approx(50, abs=0.1)


def test_only_the_latest_weight_is_scored_and_a_clothed_one_is_not():
    plain = reviewed("20 d: 3900 g; 28 d: 4400 g")
    clothed = reviewed("20 d: 3900 g; 28 d: 4400 g; 29 d: 4900 g clothed")
    assert plain.figures["z"].value == clothed.figures["z"].value


def test_without_a_sex_there_is_no_score_and_the_reason_is_given():
    review = reviewed("28 d: 4400 g", infant="40+0, 3346 g")
    for name in ("z", "centile", "birth_z", "centile_fall_spaces", "velocity_z"):
        assert "sex" in text(review.not_computed[name]).lower(), name
        assert name not in review.figures


def test_size_at_birth_is_scored_for_gestation_and_for_age_where_gestation_is_not_known():
    # WHO 2006: the median boy weighs 3346 g at birth.
    assert z(reviewed("1 h: wet", infant="boy, 3346 g"), "birth_z") == 0.0
    early, late = (
        z(reviewed("1 h: wet", infant=f"boy, {weeks}+0, 3346 g"), "birth_z") for weeks in (36, 41)
    )
    assert early > 1 > late > -1.5


def test_size_at_birth_is_asked_as_of_birth_however_late_it_is_asked():
    (size,) = reviewed("1 h: wet", "30 d").measures["birth_weight_z"]
    assert (size.value, size.age_h) == (reviewed("1 h: wet").figures["birth_z"].value, 0.0)


def test_without_a_birth_weight_neither_size_at_birth_nor_the_fall_is_told():
    review = reviewed("28 d: 4400 g", infant="boy, 40+0")
    assert text(review.not_computed["birth_z"]).endswith("birth weight is not known.")
    assert review.not_computed["centile_fall_spaces"] == review.not_computed["birth_z"]
    assert "z" in review.figures


@pytest.mark.parametrize(("grams", "is_concern"), [(4390, False), (2900, True)])
def test_a_fall_through_centiles_is_a_sign_with_its_working(grams, is_concern):
    review = reviewed(f"28 d: {grams} g")
    assert ("centile_fall_is_concern" in present(review)) is is_concern
    assert ("centile_fall_is_concern" in absent(review)) is not is_concern
    (sign,) = review.signs["centile_fall_is_concern"]
    assert sign.working == review.figures["centile_fall_spaces"].working
    assert sign.says


def test_a_fall_is_not_asked_before_its_age():
    review = reviewed("10 d: 3300 g", "11 d")
    assert "centile_fall_is_concern" not in review.signs or not present(review)


# WHO weight velocity 2009, boys, 0 to 4 weeks: median 1023 g.
def test_a_gain_over_a_published_interval_is_scored():
    review = reviewed("28 d: 4369 g")
    assert z(review, "velocity_z") == pytest.approx(0.0, abs=0.02)


def test_the_latest_gain_that_fits_an_interval_is_taken():
    first = reviewed("28 d: 4369 g; 61 d: 5565 g", "62 d")
    # From day 28 to 61 the median boy gains 1196 g; from birth the two-month table would answer.
    assert z(first, "velocity_z") == pytest.approx(0.0, abs=0.02)
    alone = reviewed("61 d: 5565 g", "62 d")
    assert alone.figures["velocity_z"].working != first.figures["velocity_z"].working


def test_a_gain_that_fits_no_interval_says_so_and_one_weight_is_no_gain():
    assert "velocity_z" in reviewed("10 d: 3500 g", "11 d").not_computed
    lone = reviewed("28 d: 4400 g", infant="boy, 40+0")
    assert text(lone.not_computed["velocity_z"]).endswith("fewer than two weights.")


LENGTH, HEAD = Size(length_cm=54.0), Size(head_cm=37.0)


# WHO 2006, boys at birth: length 49.8842 cm, head 34.4618 cm.
def test_length_and_head_are_scored_at_their_own_age():
    sizes = (Size(length_cm=49.8842), Size(head_cm=34.4618))
    review = reviewed("0 h: wet; 0 h: wet; 28 d: 4400 g", sizes=sizes, infant="boy, 3346 g")
    assert (z(review, "length_z"), z(review, "head_z")) == (0.0, 0.0)


def test_the_latest_length_counts_and_a_head_alone_does_not_hide_it():
    sizes = (Size(length_cm=52.0), LENGTH, HEAD)
    review = reviewed("10 d: wet; 28 d: wet; 29 d: wet", sizes=sizes)
    only = reviewed("28 d: wet; 29 d: wet", sizes=sizes[1:])
    assert review.figures["length_z"].value == only.figures["length_z"].value
    assert review.figures["head_z"].value == only.figures["head_z"].value


def test_sizes_that_nobody_measured_are_not_scored():
    review = reviewed("28 d: 4400 g")
    assert review.not_computed["length_z"] == NO_SIZE["length"]
    assert review.not_computed["head_z"] == NO_SIZE["head"]


@pytest.mark.parametrize(
    ("seen", "sizes"),
    [("28 d: 4400 g", ()), ("28 d: wet", (LENGTH,)), ("28 d: wet; 28 d: 4400 g", (HEAD,))],
)
def test_weight_for_length_needs_both(seen, sizes):
    review = reviewed(seen, sizes=sizes)
    assert text(review.not_computed["weight_for_length_z"]).endswith("needs a length and a weight.")


def test_weight_for_length_is_that_of_the_latest_length_and_weight():
    # WHO 2006, boys of 54.0 cm: the median weighs 4.3 kg give or take the table's step.
    table = PARAMETERS.standards.who.weight_for_length
    review = reviewed(
        f"10 d: wet; 20 d: 3500 g; 28 d: wet; 28 d: {table.at(True, 540)[0]:.0f} g",
        sizes=(Size(length_cm=50.0), LENGTH),
    )
    assert z(review, "weight_for_length_z") == 0.0


def corrected(infant, asked_at):
    case = a_case(infant, "1 h: wet", asked_at)
    return review_corrected_age(case, PARAMETERS)


@pytest.mark.parametrize(("asked_at", "age_d"), [("28 d", -28), ("56 d", 0), ("60 d", 4)])
def test_the_corrected_age_counts_from_term(asked_at, age_d):
    assert corrected(PRETERM, asked_at).figures["corrected_age_d"].value == age_d


def test_a_corrected_age_needs_a_gestation_and_a_birth():
    unknown = corrected("girl, 1700 g", "28 d").not_computed["corrected_age_d"]
    assert text(unknown).endswith("gestation at birth is not known.")
    assert "corrected_age_d" in corrected("nobody knows", "28 d").not_computed
    assert corrected("girl, 1700 g", "28 d").figures == {}


def test_every_weight_has_a_row_by_age_and_the_birth_weight_is_the_first():
    rows = rows_of("28 d: 4400 g; 3 d: 3150 g; 29 d: 4600 g clothed")
    assert [(row.weight_g, row.age_h) for row in rows] == [
        (3346, 0),
        (3150, 72),
        (4400, 28 * 24),
        (4600, 29 * 24),
    ]
    assert [row.at for row in rows] == [instant(age) for age in ("0 h", "3 d", "28 d", "29 d")]
    assert [row.clothing for row in rows][-1] == "clothed"


def test_a_row_has_its_change_from_birth_and_the_birth_weight_has_none():
    first, later = rows_of("3 d: 3179 g")
    assert first.change_percent is None
    assert later.change_percent == pytest.approx(-100 * 167 / 3346)


def test_without_a_birth_weight_a_row_has_no_change():
    (row,) = rows_of("3 d: 3179 g", infant="boy, 40+0")
    assert row.change_percent is None
    assert row.z is not None


def test_a_change_from_the_first_day_is_told_from_that_weight_on():
    rows = rows_of("12 h: 3300 g; 24 h: 3250 g; 72 h: 3120 g")
    assert [row.change_from_24h_percent for row in rows] == [
        None,
        None,
        0.0,
        pytest.approx(-4.0),
    ]


@pytest.mark.parametrize("infant", ["40+0, 3346 g", "boy, 40+0, 3346 g"])
def test_a_row_has_a_score_and_its_standard_where_the_sex_is_known_and_else_neither(infant):
    has_sex = infant.startswith("boy")
    for row in rows_of("28 d: 4400 g", infant=infant):
        assert (row.z is not None, row.centile is not None, bool(row.standard)) == (has_sex,) * 3


def test_an_infant_born_preterm_is_scored_by_the_standard_of_those():
    standards = [row.standard for row in rows_of("20 d: 1900 g", infant=PRETERM)]
    assert standards == ["INTERGROWTH-21st newborn", "INTERGROWTH-21st postnatal"]
    assert {row.standard for row in rows_of("28 d: 4400 g")} == {"WHO"}


def test_the_birth_row_of_a_preterm_infant_stands_where_its_size_at_birth_does():
    """INTERGROWTH-21st newborn size: the standard of growth after birth has no size at birth."""
    birth, later = rows_of("20 d: 1900 g", infant=PRETERM)
    size = review_growth(case_with("20 d: 1900 g", "30 d", PRETERM), PARAMETERS).figures["birth_z"]
    assert birth.z == pytest.approx(size.value)
    assert birth.centile is not None
    assert later.z is not None
    early = rows_of("20 d: 900 g", infant="boy, 23+6, 600 g")[0]
    assert (early.z, early.standard) == (None, "")


def test_a_row_carries_how_likely_its_weight_is_wrong():
    rows = rows_of("3 d: 3150 g; 28 d: 4400 g")
    marked = rows_of("3 d: 3150 g; 28 d: 4400 g", p_wrong={str(rows[2].entry_id): 0.8})
    assert [row.p_wrong for row in marked] == [None, None, 0.8]


@pytest.mark.parametrize(("infant", "seen"), [("nobody knows", "3 d: 3150 g"), ("boy", "1 h: wet")])
def test_without_a_birth_or_any_weight_there_are_no_rows(infant, seen):
    assert rows_of(seen, infant=infant) == ()


def test_before_the_ages_of_the_standard_there_is_neither_a_score_nor_a_low_weight():
    """At 30 days an infant of 22 weeks is 26+2; INTERGROWTH-21st begins with 27 weeks."""
    review = reviewed("30 d: 560 g", "31 d", infant="girl, 22+0, 500 g, vaginal")
    assert "z" not in review.figures
    assert "postmenstrual age" in text(review.not_computed["z"])
    assert not {"weight_spaces", "lowest_weight_spaces"} & review.measures.keys()


def test_a_very_low_weight_that_a_physician_knows_of_is_not_asked_again():
    low = {"weight_spaces", "lowest_weight_spaces"}
    assert low <= reviewed("28 d: 2300 g").measures.keys()
    assert not low & reviewed("28 d: 2300 g; 28.1 d: answer physician").measures.keys()
