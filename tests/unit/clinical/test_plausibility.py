from datetime import timedelta
from typing import Annotated, ClassVar

import msgspec
import pytest

from clinical_constants import BORN_AT, birth_entry, entry, hours
from entry_limits import BIRTH, LIMITS, codes
from people import an_id
from spoken import text
from suffice.clinical.entry import (
    Birth,
    Expression,
    Fact,
    Feed,
    Size,
    Stool,
    Temperature,
    TestWeight,
    Weight,
    Wet,
)
from suffice.clinical.entry.body import Bilirubin
from suffice.clinical.entry.field import Kind, Limits, Measured
from suffice.clinical.plausibility import Beside, check_entry
from suffice.clinical.weight.slip import likely_slips
from suffice.message import message


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


@pytest.mark.parametrize(
    ("birth_weight_g", "asked"),
    [(6200.0, "pounds taken for kilograms: 2812 g"), (530.0, "one zero too few: 5300 g")],
)
def test_of_several_slips_that_explain_a_birth_weight_the_commonest_is_asked_about_alone(
    birth_weight_g, asked
):
    assert len(likely_slips(birth_weight_g, lambda one: 1000 <= one <= 5500)) > 1
    (problem,) = check_entry(birth_entry(birth_weight_g=birth_weight_g), (), LIMITS)
    says = text(problem.fix)
    assert asked in says
    assert says.count(" g") == 1


def test_swapped_digits_are_named_against_the_weight_before():
    current = (BIRTH, entry(Weight(weight_g=3290.0), 240))
    (problem,) = check_entry(entry(Weight(weight_g=3830.0), 264), current, LIMITS)
    assert problem.code == "WEIGHT-003"
    assert problem.doubtful
    assert "two digits swapped: 3380 g" in text(problem.fix)


def test_a_second_weight_of_the_same_instant_is_not_the_one_before():
    twin_weight = entry(Weight(weight_g=4900.0), 240)
    current = (BIRTH, twin_weight)
    assert codes(Weight(weight_g=3650.0), 240, current=current) == []


def test_an_ordinary_newborn_loss_is_not_a_doubtful_change():
    assert codes(Weight(weight_g=3100.0), 48) == []


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


def test_an_entry_of_long_ago_is_asked_about():
    old = entry(Wet(), 1, entered_at=BORN_AT + timedelta(days=401))
    assert [one.code for one in check_entry(old, (BIRTH,), LIMITS)] == ["TIME-003"]


def test_a_correction_is_not_compared_with_what_it_replaces():
    wrong = entry(Weight(weight_g=3900.0), 240)
    current = (BIRTH, entry(Weight(weight_g=3400.0), 216), wrong)
    right = msgspec.structs.replace(entry(Weight(weight_g=3450.0), 241), replaces=wrong.id)
    assert check_entry(right, current, LIMITS) == ()


@pytest.mark.parametrize("weight_g", [-3250.0, 0.0, float("inf"), float("nan")])
def test_no_slip_is_offered_for_what_is_no_weight(weight_g):
    assert likely_slips(weight_g, lambda _: True) == ()
    problems = check_entry(birth_entry(birth_weight_g=weight_g), (), LIMITS)
    assert [problem.code for problem in problems] == ["BIRTH-003"]


def test_a_weight_is_compared_with_nothing_where_no_birth_is_known():
    assert codes(Weight(weight_g=301), current=()) == []


def test_without_a_birth_weight_a_first_weight_is_held_to_its_age_alone():
    birth = birth_entry(birth_weight_g=None)
    assert codes(Weight(weight_g=2500), 48, current=(birth,)) == []
    assert codes(Weight(weight_g=2500), 48, current=(birth_entry(birth_weight_g=3500.0),)) != []


def test_a_weight_before_birth_is_only_told_to_be_before_birth():
    assert codes(Weight(weight_g=301), age_h=-1) == ["TIME-002"]
    assert codes(Weight(weight_g=1), age_h=-1) == ["TIME-002", "WEIGHT-001"]


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


def test_what_a_content_set_of_the_past_has_no_limits_for_is_not_asked_about():
    key = "bilirubin.refused_umol_per_l"
    named = {one: limit for one, limit in LIMITS.named.items() if one != key}
    past = msgspec.structs.replace(LIMITS, named=named)
    odd = entry(Bilirubin(bilirubin_umol_per_l=5000), 72)
    assert [one.code for one in check_entry(odd, (BIRTH,), LIMITS)] == ["VALUE-001"]
    assert check_entry(odd, (BIRTH,), past) == ()


@pytest.mark.parametrize(("count", "expected"), [(15, []), (16, ["OUTPUT-002"])])
def test_wets_are_compared_with_the_limit_of_wets(count, expected):
    assert codes(Wet(count=count, over_h=24)) == expected


@pytest.mark.parametrize(("count", "expected"), [(14, []), (15, ["OUTPUT-002"])])
def test_stools_are_compared_with_the_limit_of_stools(count, expected):
    assert codes(Stool(count=count, over_h=24)) == expected


@pytest.mark.parametrize(
    ("fact", "expected"),
    [
        (Weight(weight_g=0.0), ["WEIGHT-001"]),
        (Weight(weight_g=-3250.0), ["WEIGHT-001"]),
        (Weight(weight_g=1.0), ["WEIGHT-001"]),
        (Weight(weight_g=float("nan")), ["WEIGHT-001"]),
        (Weight(weight_g=3250.0), []),
        (TestWeight(before_g=0.0, after_g=0.0), ["WEIGHT-001", "WEIGHT-001"]),
        (TestWeight(before_g=3300.0, after_g=3350.0), []),
    ],
)
def test_a_weight_that_no_age_allows_is_refused_where_the_birth_is_not_known(fact, expected):
    assert codes(fact, current=()) == expected


def test_only_births_and_weights_stand_beside_an_entry():
    """Of a family's entries a weight is compared with the weight before it, whatever came between."""
    before = [entry(Weight(weight_g=3500), 72), entry(Wet(count=1, over_h=None), 80)]
    beside = Beside([birth_entry(), *before])
    found = beside.weight_before(entry(Weight(weight_g=5300), 96))
    assert found == (before[0].true_at, 3500, None)


@pytest.mark.parametrize(
    ("before", "now", "expected"),
    [
        ("clothed", "naked", []),
        ("clothed", "dry diaper", []),
        ("clothed", "clothed", ["WEIGHT-003"]),
        ("clothed", None, ["WEIGHT-003"]),
        (None, "naked", ["WEIGHT-003"]),
        ("naked", "naked", ["WEIGHT-003"]),
        ("naked", "clothed", ["WEIGHT-003"]),
    ],
)
def test_a_naked_weight_after_a_clothed_one_is_not_asked_about_for_the_clothes(
    before, now, expected
):
    weighed = entry(Weight(weight_g=4000, clothing=before), 480)
    asked = Weight(weight_g=3640, clothing=now)
    assert codes(asked, 500, (BIRTH, weighed)) == expected


def test_a_clothed_weight_after_a_naked_one_or_after_birth_may_be_heavier_by_the_clothes():
    asked = Weight(weight_g=3830, clothing="clothed")
    assert codes(asked, 24, (BIRTH,)) == []
    assert codes(Weight(weight_g=3830), 24, (BIRTH,)) == ["WEIGHT-003"]


def test_where_a_past_content_does_not_say_what_clothes_weigh_they_explain_nothing():
    past = msgspec.structs.replace(LIMITS, named={})
    weighed = entry(Weight(weight_g=4000, clothing="clothed"), 480)
    now = entry(Weight(weight_g=3640, clothing="naked"), 500)
    assert [one.code for one in check_entry(now, (BIRTH, weighed), past)] == ["WEIGHT-003"]
