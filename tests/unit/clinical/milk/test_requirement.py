import pytest

from clinical_constants import Steps, constant
from spoken import text
from suffice.clinical.milk.observed_intake import IntakeNorms, observed_early_intake, views
from suffice.clinical.milk.requirement import (
    EnergyParameters,
    as_milk,
    completed_months,
    energy_requirement,
    milk_energy_kcal_per_ml,
    percent_met,
)
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, RefusalError

ENERGY = EnergyParameters(
    breastfed_slope_kcal_per_kg_per_day=constant(90),
    breastfed_intercept_kcal_per_day=constant(-150),
    formula_slope_kcal_per_kg_per_day=constant(80),
    formula_intercept_kcal_per_day=constant(-30),
    all_slope_kcal_per_kg_per_day=constant(85),
    all_intercept_kcal_per_day=constant(-100),
    deposition_boys_kcal_per_day=Steps({0: 200, 1: 180}, until=12),
    deposition_girls_kcal_per_day=Steps({0: 160, 1: 150}, until=12),
    between_infants_cv_fraction=constant(0.1),
    level_fraction=constant(0.8),
    refuse_before_d=constant(14),
    caution_before_d=constant(30),
    preterm_before_d=constant(259),
    low_weight_g=constant(2500),
    milk_energy_kj_per_g=constant(2.6),
    milk_density_g_per_ml=constant(1.03),
)
NORMS = IntakeNorms(
    early_g_per_kg_per_day=Steps({1: 13, 3: 98, 5: 155}, until=6, linear=True),
    early_sd_g_per_kg_per_day=Steps({1: 16, 3: 47, 5: 29}, until=6, linear=True),
    early_g_per_day=Steps({1: 37, 3: 408, 5: 705}, until=6, linear=True),
    later_ml_per_kg_per_day=Steps({30: 135, 91: 126}, until=366, linear=True),
    later_ml_per_day=Steps({30: 624, 91: 735}, until=366, linear=True),
    early_until_d=constant(14),
    allotment_ml_per_kg_per_day=constant(150),
    allotment_from_d=constant(5, "d"),
    allotment_until_d=constant(42, "d"),
    dri_slope_kcal_per_kg_per_day=constant(89),
    dri_intercept_kcal_per_day=constant(-100),
    dri_deposition_kcal_per_day=Steps({0: 175}, until=12),
)


def need(weight_g=4000, age_d=40, sex="male", gestation_days=280, **more):
    return energy_requirement(
        weight_g, age_d, ENERGY, sex=sex, gestation_days=gestation_days, **more
    )


def flat(value, unit="mL/d", **more):
    return Figure(value=value, unit=unit, working=Working(formula="given"), **more)


@pytest.mark.parametrize(
    ("feeding", "kcal"),
    [
        ("breastfed", 90 * 4 - 150 + 180),
        ("formula", 80 * 4 - 30 + 180),
        ("all", 85 * 4 - 100 + 180),
    ],
)
def test_requirement_is_expenditure_plus_growth(feeding, kcal):
    figure = need(feeding=feeding)
    assert figure.value == kcal
    assert figure.unit == "kcal/d"
    assert len(figure.working.constants) >= 3


def test_an_unknown_sex_takes_the_mean_and_says_so():
    figure = need(sex=None)
    assert figure.value == 90 * 4 - 150 + 165
    assert any("sex is not known" in text(note) for note in figure.working.notes)


def test_the_interval_is_the_spread_between_infants():
    figure = need()
    assert figure.high - figure.value == pytest.approx(1.2815515655446 * 0.1 * figure.value)
    assert figure.level == 0.8


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({"age_d": 13.9}, "ENERGY-002"),
        ({"age_d": 366}, "ENERGY-003"),
        ({"gestation_days": 258}, "ENERGY-004"),
        ({"weight_g": 2499}, "ENERGY-005"),
    ],
)
def test_the_requirement_refuses_outside_its_range(arguments, code):
    with pytest.raises(RefusalError, match=code):
        need(**arguments)


@pytest.mark.parametrize("arguments", [{"weight_g": 0}, {"age_d": -1}])
def test_impossible_inputs_are_refused(arguments):
    with pytest.raises(InputError, match="ENERGY-001"):
        need(**arguments)


def test_between_two_weeks_and_a_month_it_is_a_rough_guide():
    assert any("rough guide" in text(note) for note in need(age_d=20).working.notes)
    assert not any("rough guide" in text(note) for note in need(age_d=40).working.notes)


def test_an_unknown_gestation_is_said():
    assert any("gestation is not known" in text(n) for n in need(gestation_days=None).working.notes)


@pytest.mark.parametrize(("age_d", "month"), [(0, 0), (30, 0), (31, 1), (364, 11), (366, 12)])
def test_completed_months(age_d, month):
    assert completed_months(age_d) == month


def test_energy_becomes_milk_through_energy_and_density():
    milk = milk_energy_kcal_per_ml(ENERGY).value
    assert milk == pytest.approx(2.6 * 1.03 / 4.184)
    figure = as_milk(need(), ENERGY)
    assert figure.value == pytest.approx(390 / milk)
    assert figure.unit == "mL/d"
    assert figure.low is not None
    assert figure.low < figure.value < figure.high


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


@pytest.mark.parametrize("day", [0, 15])
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


def test_percent_met_carries_the_intakes_interval():
    met = percent_met(flat(450, low=400, high=500, level=0.95), flat(600))
    assert (met.value, met.low, met.high) == pytest.approx((75, 400 / 6, 500 / 6))
    assert met.level == 0.95


@pytest.mark.parametrize("bad", [flat(600, unit="kcal/d"), flat(0)])
def test_percent_met_needs_one_unit_and_a_need(bad):
    with pytest.raises(InputError, match="ENERGY-007"):
        percent_met(flat(450), bad)
