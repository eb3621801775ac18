from datetime import timedelta
from typing import Annotated, ClassVar

import msgspec
import pytest

from clinical_constants import BORN_AT, Steps, birth_entry, constant, entry, hours
from people import an_id
from spoken import text
from suffice.clinical.entry import (
    Birth,
    Contact,
    Expression,
    Fact,
    Feed,
    Setting,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.entry.field import Kind, Limits, Measured
from suffice.clinical.plausibility import check_entry
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.clinical.weight.check import check_weight
from suffice.clinical.weight.slip import likely_slips
from suffice.message import message

SERIES = {
    "weight_refused_low_g": Steps({0: 300, 730: 4000}, linear=True),
    "weight_doubtful_low_g": Steps({0: 1000, 30: 1800, 730: 7500}, linear=True),
    "weight_doubtful_high_g": Steps({0: 5500, 30: 6800, 730: 19500}, linear=True),
    "weight_refused_high_g": Steps({0: 8000, 30: 9000, 730: 28000}, linear=True),
}
NUMBERS = {
    "birth_weight_refused_low_g": 300,
    "birth_weight_doubtful_low_g": 1000,
    "birth_weight_doubtful_high_g": 5500,
    "birth_weight_refused_high_g": 8000,
    "gain_doubtful_low_g_per_day": -100,
    "gain_doubtful_high_g_per_day": 100,
    "change_doubtful_g": 250,
    "loss_doubtful_percent": 15,
    "loss_refused_percent": 45,
    "gestation_refused_low_d": 147,
    "gestation_doubtful_low_d": 161,
    "gestation_doubtful_high_d": 301,
    "gestation_refused_high_d": 315,
    "temperature_refused_low_c": 30,
    "temperature_doubtful_low_c": 34.5,
    "temperature_doubtful_high_c": 40.5,
    "temperature_refused_high_c": 43,
    "feed_volume_doubtful_high_ml": 250,
    "feed_volume_refused_high_ml": 500,
    "expression_volume_doubtful_high_ml": 400,
    "expression_volume_refused_high_ml": 1000,
    "test_weight_transfer_refused_low_g": -200,
    "test_weight_transfer_doubtful_low_g": -20,
    "test_weight_transfer_doubtful_high_g": 240,
    "test_weight_transfer_refused_high_g": 500,
    "feed_doubtful_high_minutes": 90,
    "feed_refused_high_minutes": 300,
    "expression_doubtful_high_minutes": 60,
    "expression_refused_high_minutes": 240,
    "interval_doubtful_high_h": 24,
    "interval_refused_high_h": 168,
    "wets_doubtful_high_count_per_day": 15,
    "wets_refused_high_count_per_day": 40,
    "stools_doubtful_high_count_per_day": 14,
    "stools_refused_high_count_per_day": 40,
    "length_refused_low_cm": 20,
    "length_doubtful_low_cm": 38,
    "length_doubtful_high_cm": 95,
    "length_refused_high_cm": 110,
    "head_refused_low_cm": 15,
    "head_doubtful_low_cm": 28,
    "head_doubtful_high_cm": 53,
    "head_refused_high_cm": 60,
    "fluids_doubtful_high_ml": 6000,
    "fluids_refused_high_ml": 20000,
    "multiple_doubtful_count": 3,
    "multiple_refused_count": 9,
    "future_refused_h": 0.25,
    "entered_late_doubtful_d": 400,
}
LIMITS = PlausibilityLimits(**SERIES, **{name: constant(value) for name, value in NUMBERS.items()})
BIRTH = birth_entry(birth_weight_g=3400.0)


def codes(fact, age_h=72.0, current=(BIRTH,), **more):
    problems = check_entry(entry(fact, age_h, **more), current, LIMITS)
    return [problem.code for problem in problems]


@pytest.mark.parametrize(
    ("fact", "code"),
    [
        (Temperature(temperature_c=29.9), "TEMPERATURE-001"),
        (Temperature(temperature_c=43.1), "TEMPERATURE-001"),
        (Temperature(temperature_c=float("nan")), "TEMPERATURE-001"),
        (Temperature(temperature_c=34.4), "TEMPERATURE-002"),
        (Temperature(temperature_c=40.6), "TEMPERATURE-002"),
        (Feed(milk="formula", volume_ml=-1), "VOLUME-001"),
        (Feed(milk="formula", volume_ml=501), "VOLUME-001"),
        (Feed(milk="formula", volume_ml=251), "VOLUME-002"),
        (Feed(milk="breast", minutes=301), "DURATION-001"),
        (Feed(milk="breast", minutes=91), "DURATION-002"),
        (Expression(left_ml=1001), "VOLUME-003"),
        (Expression(right_ml=401), "VOLUME-004"),
        (Expression(left_ml=50, minutes=241), "DURATION-003"),
        (Expression(left_ml=50, minutes=61), "DURATION-004"),
        (Expression(left_ml=50, hours_since_last=169), "DURATION-005"),
        (Expression(left_ml=50, hours_since_last=25), "DURATION-006"),
        (Wet(count=-1), "OUTPUT-001"),
        (Wet(count=41, over_h=24), "OUTPUT-001"),
        (Wet(count=16, over_h=24), "OUTPUT-002"),
        (Wet(count=2, over_h=-3), "OUTPUT-001"),
        (Stool(count=15, over_h=24), "OUTPUT-002"),
        (Size(length_cm=19), "LENGTH-001"),
        (Size(length_cm=37), "LENGTH-002"),
        (Size(head_cm=61), "LENGTH-003"),
        (Size(head_cm=54), "LENGTH-004"),
        (TestWeight(before_g=3300, after_g=3801), "TEST-006"),
        (TestWeight(before_g=3300, after_g=3275), "TEST-007"),
        (TestWeight(before_g=3300, after_g=3350, minutes=301), "DURATION-001"),
    ],
)
def test_each_limit_has_its_code(fact, code):
    assert codes(fact) == [code]


@pytest.mark.parametrize(
    "fact",
    [
        Temperature(temperature_c=36.8),
        Feed(milk="formula", volume_ml=60, minutes=20),
        Feed(milk="breast"),
        Expression(left_ml=0, right_ml=120, minutes=20, hours_since_last=3),
        Wet(),
        Stool(count=30, over_h=72),
        Wet(count=1, over_h=0.5),
        Wet(count=0, over_h=0),
        Size(length_cm=50, head_cm=35),
        TestWeight(before_g=3300, after_g=3350, minutes=20),
        Weight(weight_g=3180),
    ],
)
def test_ordinary_entries_pass(fact):
    assert codes(fact) == []


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"gestation_days": 146}, "BIRTH-001"),
        ({"gestation_days": 302}, "BIRTH-002"),
        ({"birth_weight_g": 32500}, "BIRTH-003"),
        ({"birth_weight_g": 5600}, "BIRTH-004"),
        ({"intrapartum_fluids_ml": 20001}, "BIRTH-005"),
        ({"intrapartum_fluids_ml": 6001}, "BIRTH-006"),
        ({"multiple": 0}, "BIRTH-007"),
        ({"multiple": 4}, "BIRTH-008"),
    ],
)
def test_birth_facts(facts, code):
    problems = check_entry(birth_entry(**facts), (), LIMITS)
    assert [problem.code for problem in problems] == [code]


def test_impossible_is_refused_and_unlikely_is_asked():
    refused, asked = (
        check_entry(entry(Temperature(temperature_c=value), 72), (BIRTH,), LIMITS)[0]
        for value in (44, 41)
    )
    assert not refused.doubtful
    assert asked.doubtful
    assert asked.where == "temperature_c"


def test_a_weight_with_a_zero_too_many_is_refused_and_the_slip_named():
    (problem,) = check_entry(entry(Weight(weight_g=32500.0), 72), (BIRTH,), LIMITS)
    assert problem.code == "WEIGHT-001"
    assert not problem.doubtful
    assert "one zero too many: 3250 g" in text(problem.fix)


def test_pounds_taken_for_kilograms_are_named():
    problems = check_weight(7300, 72, LIMITS, previous_g=3400, previous_age_h=24)
    assert problems[0].code == "WEIGHT-002"
    assert "pounds taken for kilograms: 3311 g" in text(problems[0].fix)


def test_swapped_digits_are_named_against_the_weight_before():
    current = (BIRTH, entry(Weight(weight_g=3290.0), 240))
    (problem,) = check_entry(entry(Weight(weight_g=3830.0), 264), current, LIMITS)
    assert problem.code == "WEIGHT-003"
    assert problem.doubtful
    assert "two digits swapped: 3380 g" in text(problem.fix)


def test_a_small_infant_that_grows_on_is_not_asked_about_again():
    assert check_weight(1700, 30 * 24, LIMITS)[0].code == "WEIGHT-002"
    assert check_weight(1700, 30 * 24, LIMITS, previous_g=1450, previous_age_h=20 * 24) == ()


def test_a_slip_is_offered_only_where_it_would_follow_the_weight_before():
    problems = check_weight(1300, 30 * 24, LIMITS, previous_g=1700, previous_age_h=29 * 24)
    assert [problem.code for problem in problems] == ["WEIGHT-002", "WEIGHT-003"]
    assert "Perhaps" not in "".join(text(problem.fix) for problem in problems)


@pytest.mark.parametrize(("weight_g", "codes"), [(3410, []), (3390, ["WEIGHT-003"])])
def test_a_deep_fall_is_asked_about_however_long_ago_the_weight_before(weight_g, codes):
    problems = check_weight(weight_g, 60 * 24, LIMITS, previous_g=4000, previous_age_h=30 * 24)
    assert [problem.code for problem in problems] == codes


@pytest.mark.parametrize(("weight_g", "asked"), [(4250, False), (4251, True), (3750, False)])
def test_within_a_day_a_change_as_heavy_as_clothes_is_asked_about(weight_g, asked):
    problems = check_weight(weight_g, 30 * 24, LIMITS, previous_g=4000, previous_age_h=29 * 24)
    assert bool(problems) is asked


@pytest.mark.parametrize(("days", "asked"), [(5, True), (6, False)])
def test_over_days_a_change_is_asked_about_by_its_rate(days, asked):
    later_h = (30 + days) * 24
    problems = check_weight(4550, later_h, LIMITS, previous_g=4000, previous_age_h=30 * 24)
    assert bool(problems) is asked


def test_a_second_weight_of_the_same_instant_is_not_the_one_before():
    twin_weight = entry(Weight(weight_g=4900.0), 240)
    current = (BIRTH, twin_weight)
    assert codes(Weight(weight_g=3650.0), 240, current=current) == []


def test_an_ordinary_newborn_loss_is_not_a_doubtful_change():
    assert codes(Weight(weight_g=3100.0), 48) == []


def test_a_large_loss_from_birth_is_asked_and_a_physician_named():
    (problem,) = check_weight(2850, 96, LIMITS, birth_weight_g=3400)
    assert problem.code == "WEIGHT-004"
    assert problem.doubtful
    assert "physician" in text(problem.fix)


def test_a_loss_that_cannot_be_is_refused():
    problems = check_weight(1800, 96, LIMITS, birth_weight_g=3400)
    assert [problem.code for problem in problems] == ["WEIGHT-005"]


def test_entries_of_the_future_and_before_birth_are_refused():
    ahead = entry(Wet(), 72, entered_at=hours(70))
    assert [one.code for one in check_entry(ahead, (BIRTH,), LIMITS)] == ["TIME-001"]
    assert codes(Wet(), -1) == ["TIME-002"]


def test_a_clock_a_few_minutes_ahead_is_let_be():
    ahead = entry(Wet(), 72, entered_at=hours(72) - timedelta(minutes=10))
    assert check_entry(ahead, (BIRTH,), LIMITS) == ()


def test_an_entry_of_last_year_is_let_be():
    late = entry(Wet(), 1, entered_at=BORN_AT + timedelta(days=399))
    assert check_entry(late, (BIRTH,), LIMITS) == ()


def test_both_weights_of_a_test_weight_are_held_against_the_age():
    assert codes(TestWeight(before_g=33000, after_g=33050)) == ["WEIGHT-001", "WEIGHT-001"]


def test_an_entry_of_long_ago_is_asked_about():
    old = entry(Wet(), 1, entered_at=BORN_AT + timedelta(days=401))
    assert [one.code for one in check_entry(old, (BIRTH,), LIMITS)] == ["TIME-003"]


def test_a_correction_is_not_compared_with_what_it_replaces():
    wrong = entry(Weight(weight_g=3900.0), 240)
    current = (BIRTH, entry(Weight(weight_g=3400.0), 216), wrong)
    right = msgspec.structs.replace(entry(Weight(weight_g=3450.0), 241), replaces=wrong.id)
    assert check_entry(right, current, LIMITS) == ()


def test_slips_never_offer_what_does_not_fit_or_what_was_entered():
    slips = likely_slips(3280, lambda grams: 3000 <= grams <= 4000)
    assert [(slip.weight_g, text(slip.words)) for slip in slips] == [
        (3820, "two digits swapped"),
        (3208, "two digits swapped"),
    ]


@pytest.mark.parametrize("weight_g", [-3250.0, 0.0, float("inf"), float("nan")])
def test_no_slip_is_offered_for_what_is_no_weight(weight_g):
    assert likely_slips(weight_g, lambda _: True) == ()
    problems = check_entry(birth_entry(birth_weight_g=weight_g), (), LIMITS)
    assert [problem.code for problem in problems] == ["BIRTH-003"]


def test_a_swap_never_begins_with_a_zero():
    assert all(
        slip.weight_g > 1000
        for slip in likely_slips(3080, lambda _: True)
        if "swapped" in text(slip.words)
    )
    assert not any("swapped" in text(slip.words) for slip in likely_slips(10, lambda _: True))


@pytest.mark.parametrize(
    ("due_h", "expected"),
    [(None, []), (73, []), (72, ["CONTACT-001"]), (71, ["CONTACT-001"])],
)
def test_the_next_contact_lies_after_this_one(due_h, expected):
    due = None if due_h is None else hours(due_h)
    fact = Contact(setting=Setting.HOME, next_due_at=due)
    assert codes(fact, infant_id=None, current=()) == expected
    assert codes(fact, infant_id=None) == expected


def test_a_weight_is_compared_with_nothing_where_no_birth_is_known():
    assert codes(Weight(weight_g=1), current=()) == []


def test_a_weight_before_birth_is_only_told_to_be_before_birth():
    assert codes(Weight(weight_g=1), age_h=-1) == ["TIME-002"]


@pytest.mark.parametrize(
    ("zone", "expected"),
    [
        ("Europe/Madrid", []),
        ("UTC", []),
        ("", ["BIRTH-010"]),
        ("Mars/Crater", ["BIRTH-010"]),
        ("../etc/passwd", ["BIRTH-010"]),
    ],
)
def test_the_zone_of_birth_is_one_that_exists(zone, expected):
    found = check_entry(entry(Birth(zone=zone), 0), (), LIMITS)
    assert [problem.code for problem in found] == expected


def test_a_second_birth_of_one_infant_is_refused_and_of_another_is_not():
    assert codes(Birth(zone="UTC"), age_h=1) == ["BIRTH-009"]
    assert codes(Birth(zone="UTC"), age_h=1, infant_id=an_id("twin")) == []
    assert codes(Birth(zone="UTC"), age_h=1, replaces=BIRTH.id) == []


@pytest.mark.parametrize("current", [(), (BIRTH,)])
@pytest.mark.parametrize("age_h", [-1, 72])
def test_a_test_weight_is_judged_by_its_difference_whatever_the_age(current, age_h):
    found = codes(TestWeight(before_g=3300, after_g=3801), age_h, current=current)
    assert "TEST-006" in found


def test_a_value_without_a_lowest_limit_is_only_refused_above():
    class Odd(Fact, tag="odd", frozen=True, kw_only=True):
        declared: ClassVar[Kind] = Kind(name=message("odd"), title=message("Odd"))
        level: Annotated[
            float,
            Measured(
                label=message("Level"),
                quantity="volume",
                limits=Limits(
                    codes=("ODD-001", "ODD-002"),
                    unit=message("mL"),
                    high=("feed_volume_doubtful_high_ml", "feed_volume_refused_high_ml"),
                    least=None,
                ),
            ),
        ]

    found = [check_entry(entry(Odd(level=one), 72), (BIRTH,), LIMITS) for one in (-900, 300, 501)]
    assert [[problem.code for problem in one] for one in found] == [[], ["ODD-002"], ["ODD-001"]]
    assert "up to 500" in text(found[2][0].why)
    assert "up to 250" in text(found[1][0].why)
