import pytest

from milk_constants import ENERGY
from spoken import text
from suffice.clinical.milk.requirement import (
    as_milk,
    energy_requirement,
    milk_energy_kcal_per_ml,
    percent_met,
)
from suffice.clinical.working import Figure, Working
from suffice.errors import InputError, RefusalError


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
    assert any("rough guide" in text(note) for note in need(age_d=29.9).working.notes)
    assert not any("rough guide" in text(note) for note in need(age_d=30).working.notes)


def test_an_unknown_gestation_is_said():
    assert any("gestation is not known" in text(n) for n in need(gestation_days=None).working.notes)


def test_energy_becomes_milk_through_energy_and_density():
    milk = milk_energy_kcal_per_ml(ENERGY).value
    assert milk == pytest.approx(2.6 * 1.03 / 4.184)
    figure = as_milk(need(), ENERGY)
    assert figure.value == pytest.approx(390 / milk)
    assert figure.unit == "mL/d"
    assert figure.low is not None
    assert figure.low < figure.value < figure.high


def test_percent_met_carries_the_intakes_interval():
    met = percent_met(flat(450, low=400, high=500, level=0.95), flat(600))
    assert (met.value, met.low, met.high) == pytest.approx((75, 400 / 6, 500 / 6))
    assert met.level == 0.95


@pytest.mark.parametrize("bad", [flat(600, unit="kcal/d"), flat(0)])
def test_percent_met_needs_one_unit_and_a_need(bad):
    with pytest.raises(InputError, match="ENERGY-007"):
        percent_met(flat(450), bad)
