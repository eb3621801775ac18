"""What infants were seen to take, and every source's answer side by side."""

from __future__ import annotations

import pytest

from milk_constants import ENERGY, NORMS
from spoken import text
from suffice.clinical.milk.observed_intake import observed_early_intake, views
from suffice.errors import InputError, RefusalError


def test_observed_intake_of_a_published_day():
    figure = observed_early_intake(3300, 3, NORMS, ENERGY)
    assert figure.value == pytest.approx(98 * 3.3 / 1.03)
    assert any("not a requirement" in text(note) for note in figure.working.notes)
    assert not any("straight line" in text(note) for note in figure.working.notes)


def test_a_day_between_published_ones_is_said_to_be_a_line():
    figure = observed_early_intake(3300, 2, NORMS, ENERGY)
    assert figure.value == pytest.approx((13 + 98) / 2 * 3.3 / 1.03)
    assert any("straight line" in text(note) for note in figure.working.notes)


def test_the_interval_of_an_observed_day_is_the_spread_between_infants():
    figure = observed_early_intake(3300, 5, NORMS, ENERGY)
    half = 1.2815515655446 * 29 * 3.3 / 1.03
    assert figure.high - figure.value == pytest.approx(half)
    assert figure.value - figure.low == pytest.approx(half)
    assert figure.level == 0.8


def test_the_low_end_of_an_observed_range_is_never_below_nothing():
    assert observed_early_intake(3300, 1, NORMS, ENERGY).low == 0


def test_the_second_week_runs_to_the_first_month():
    figure = observed_early_intake(4000, 10, NORMS, ENERGY)
    start = 155 / 1.03
    assert figure.value == pytest.approx((start + 5 / 25 * (135 - start)) * 4)
    assert any(text(note).startswith("Derived") for note in figure.working.notes)


@pytest.mark.parametrize("day", [0, 0.9, 14.5, 15])
def test_observed_early_intake_is_refused_outside_the_early_weeks(day):
    with pytest.raises(RefusalError, match="ENERGY-006"):
        observed_early_intake(3300, day, NORMS, ENERGY)


def test_every_source_answers_or_says_why_not():
    answers = views(3300, 3.5, ENERGY, NORMS, sex="female")
    assert len(answers) == 9
    assert all((one.volume_ml_per_day is None) != (one.refusal is None) for one in answers)
    first = next(one for one in answers if one.volume_ml_per_day is not None)
    assert first.kind == "observed"
    refused = {one.refusal.code for one in answers if one.refusal is not None}
    assert "ENERGY-002" in refused


def test_at_six_weeks_the_requirement_comes_first():
    answers = views(4500, 42, ENERGY, NORMS, sex="female", gestation_days=280)
    first = next(one for one in answers if one.volume_ml_per_day is not None)
    assert text(first.name) == "energy requirement, breastfed infants"


@pytest.mark.parametrize(
    ("weight_g", "age_d", "gestation_days"),
    [(600, 14, 170), (640, 10, 170), (2250, 3, 240), (2560, 42, 240), (3000, 21, 258)],
)
def test_no_source_is_asked_how_much_an_infant_born_preterm_needs(weight_g, age_d, gestation_days):
    answers = views(weight_g, age_d, ENERGY, NORMS, sex="female", gestation_days=gestation_days)
    assert [one.volume_ml_per_day for one in answers] == [None] * len(answers)


@pytest.mark.parametrize(
    ("weight_g", "age_d", "offered"),
    [(2500, 5, True), (4500, 42, True), (2499, 5, False), (3300, 4.9, False), (12000, 728, False)],
)
def test_the_allotment_is_offered_only_where_it_was_taught_for(weight_g, age_d, offered):
    answers = views(weight_g, age_d, ENERGY, NORMS, sex="female", gestation_days=280)
    (allotment,) = [one for one in answers if one.kind == "allotment"]
    assert (allotment.volume_ml_per_day is not None) is offered


NAMES = (
    "energy requirement, breastfed infants",
    "what 11 newborns took in the first days, by weight: no requirement",
    "energy requirement, all infants",
    "energy requirement, formula-fed infants",
    "energy requirement, another equation",
    "what 9 newborns took in the first days, whatever the weight: no requirement",
    "observed, mean of a review, by weight",
    "observed, mean of a review, whatever the weight",
    "taught allotment by weight",
)
KCAL_PER_ML = 2.6 * 1.03 / 4.184


def answers(weight_g, age_d, **more):
    found = views(weight_g, age_d, ENERGY, NORMS, **{"sex": "male", "gestation_days": 280, **more})
    assert tuple(text(one.name) for one in found) == NAMES
    return [
        one.refusal.code if one.refusal else round(one.volume_ml_per_day.value, 6) for one in found
    ]


def test_each_answer_at_six_weeks_is_that_of_its_own_equation():
    later = 135 + 11 / 61 * (126 - 135)
    assert answers(4500, 41) == pytest.approx(
        [
            (90 * 4.5 - 150 + 180) / KCAL_PER_ML,
            "ENERGY-006",
            (85 * 4.5 - 100 + 180) / KCAL_PER_ML,
            (80 * 4.5 - 30 + 180) / KCAL_PER_ML,
            (89 * 4.5 - 100 + 175) / KCAL_PER_ML,
            "ENERGY-006",
            later * 4.5,
            624 + 11 / 61 * (735 - 624),
            150 * 4.5,
        ],
        abs=1e-5,
    )


def test_in_the_first_days_only_what_was_observed_then_answers():
    found = answers(3300, 2.5)
    # Day 3 of life: 98 g/kg and 408 g, at 1.03 g/mL.
    assert found[1] == pytest.approx(98 * 3.3 / 1.03, abs=1e-5)
    assert found[5] == pytest.approx(408 / 1.03, abs=1e-5)
    assert [one for place, one in enumerate(found) if place not in {1, 5}] == [
        *["ENERGY-002"] * 4,
        "TEST-RANGE",
        "TEST-RANGE",
        "ENERGY-008",
    ]


@pytest.mark.parametrize(
    ("age_d", "answer"), [(4.99, 705 / 1.03), (5.0, "ENERGY-006"), (13.9, "ENERGY-006")]
)
def test_the_series_in_grams_ends_with_its_last_day(age_d, answer):
    # Half a day past the middle of day 5 is its end; 4.99 days of age is day 5 of life, the last of the series; 5.0 is day 6.
    assert answers(3300, age_d)[5] == pytest.approx(answer, abs=1e-5)


@pytest.mark.parametrize(("age_d", "is_given"), [(13.9, True), (14.0, False)])
def test_early_intake_ends_with_the_second_week(age_d, is_given):
    found = views(3300, age_d, ENERGY, NORMS, sex="male", gestation_days=280)
    (early,) = [one for one in found if text(one.name) == NAMES[1]]
    assert (early.volume_ml_per_day is not None) is is_given


def test_the_early_series_meets_the_stretch_after_it_without_a_jump():
    fifth, sixth = (observed_early_intake(4000, day, NORMS, ENERGY).value for day in (5, 6))
    assert fifth == pytest.approx(155 * 4 / 1.03)
    step = (135 - 155 / 1.03) / 25 * 4
    assert sixth - fifth == pytest.approx(step)


def test_the_stretch_that_nobody_measured_has_no_interval():
    figure = observed_early_intake(4000, 6, NORMS, ENERGY)
    assert (figure.low, figure.high, figure.level) == (None, None, None)


@pytest.mark.parametrize(("gestation_days", "is_preterm"), [(258, True), (259, False)])
def test_37_weeks_is_the_border_of_what_was_taken_from_term_infants(gestation_days, is_preterm):
    found = answers(3300, 41, gestation_days=gestation_days)
    assert (found[1:2] + found[5:] == ["ENERGY-008"] * 5) is is_preterm


def test_an_unknown_gestation_is_not_called_preterm():
    assert "ENERGY-008" not in answers(4500, 41, gestation_days=None)


@pytest.mark.parametrize(("weight_g", "age_d"), [(0, 3), (-1, 3), (float("nan"), 3), (3300, -0.1)])
def test_no_source_is_asked_about_what_cannot_be(weight_g, age_d):
    with pytest.raises(InputError, match="ENERGY-001"):
        views(weight_g, age_d, ENERGY, NORMS, sex=None)


def test_what_was_observed_is_never_called_a_requirement():
    found = views(3300, 3.5, ENERGY, NORMS, sex="female")
    kinds = {text(one.name): one.kind for one in found}
    assert [name for name, kind in kinds.items() if kind == "observed"] == [
        name for name in NAMES if name.startswith(("observed", "what"))
    ]
    assert all("no requirement" in name for name in NAMES if name.startswith("what"))
    assert [name for name, kind in kinds.items() if kind == "allotment"] == [NAMES[-1]]


def first_of(weight_g, age_d, **more):
    found = views(weight_g, age_d, ENERGY, NORMS, **{"sex": "male", "gestation_days": 280, **more})
    return next((one for one in found if one.volume_ml_per_day), None)


def test_each_hour_of_the_first_days_lies_on_the_line_between_published_days():
    """Casey 1986: 13 g/kg on day 1, 98 on day 3; a value stands for the middle of its day."""
    at_24_h = first_of(3300, 1.0).volume_ml_per_day.value
    assert at_24_h == pytest.approx((13 + (98 - 13) / 4) * 3.3 / 1.03)
    assert first_of(3300, 0.1).volume_ml_per_day.value == pytest.approx(13 * 3.3 / 1.03)


def test_from_two_weeks_to_a_month_the_need_passes_to_the_requirement():
    at_two_weeks, on_the_way, at_a_month = (first_of(4000, age_d) for age_d in (14, 22, 30))
    observed = observed_early_intake(4000, 14.499, NORMS, ENERGY).value
    assert at_two_weeks.volume_ml_per_day.value == pytest.approx(observed, abs=0.1)
    required = (90 * 4 - 150 + 200) / KCAL_PER_ML
    assert at_a_month.volume_ml_per_day.value == pytest.approx(required)
    assert text(at_a_month.name) == NAMES[0]
    seen = (155 / 1.03 + 17.5 / 25 * (135 - 155 / 1.03)) * 4
    figure = on_the_way.volume_ml_per_day
    assert figure.value == pytest.approx((seen + required) / 2)
    assert text(on_the_way.name) == "between what was taken and the energy requirement"
    share = (figure.high - figure.value) / figure.value
    assert share == pytest.approx(1.2815515655446 * 0.1)
    assert any("rough guide" in text(note) for note in figure.working.notes)


@pytest.mark.parametrize("weight_g", [2400, 2499])
def test_on_the_way_a_small_infant_is_refused_as_by_the_requirement(weight_g):
    assert first_of(weight_g, 20) is None


def test_a_formula_fed_infant_has_its_own_line_first():
    """FAO 2004: the formula-fed line lies above the breastfed one at every weight of the table."""
    fed = first_of(4500, 41, feeding="formula")
    assert text(fed.name) == "energy requirement, formula-fed infants"
    assert fed.volume_ml_per_day.value == pytest.approx((80 * 4.5 - 30 + 180) / KCAL_PER_ML)
    names = [
        text(one.name)
        for one in views(4500, 41, ENERGY, NORMS, sex="male", gestation_days=280, feeding="formula")
    ]
    assert sorted(names) == sorted(NAMES)


@pytest.mark.parametrize(("age_d", "is_said"), [(182.9, False), (183, True), (212.9, True)])
def test_from_six_months_the_need_says_that_it_leaves_no_room_for_solids(age_d, is_said):
    found = views(8000, age_d, ENERGY, NORMS, sex="male", gestation_days=280)
    for one in found:
        if one.kind == "requirement":
            notes = [text(note) for note in one.volume_ml_per_day.working.notes]
            assert any("no room for solids" in note for note in notes) is is_said


def test_from_seven_months_no_source_asserts_a_need_of_milk():
    found = views(8300, 213, ENERGY, NORMS, sex="male", gestation_days=280)
    assert {one.refusal.code for one in found if one.kind == "requirement"} == {"ENERGY-009"}
    assert first_of(8300, 213).kind == "observed"
