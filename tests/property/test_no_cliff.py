"""Rules that compare one number, by fine steps of it and of age: the level changes by one step at most.

Loss by hour stands in test_course_of_weight, gain by age in test_gain_ladder. Where a source itself
leaves out a step the pair of flags is named here, with the reason in docs/validation/steps.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from itertools import pairwise

import pytest

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from sweeps import each

CONTENT, POLICY = load(), Policy(zone=ZONE)
GIRL, BIRTH_G = "girl, 40+0, 3400 g, vaginal", 3400
STEPS = {"emergency": 4, "physician": 3, "consultant": 2, "look": 1, "note": 0}
CALM = ""

Told = tuple[int, str]
Pair = tuple[str, str]

PUBLISHED_TEMPERATURE = {
    ("temperature-again", "fever"),
    (CALM, "fever-from-three-months"),
    ("fever-look", "fever-after-six-months"),
    ("cool", "cold"),
    ("cold-later", "temperature-low"),
    (CALM, "parent-fever"),
    (CALM, "parent-fever-later"),
}
WHOLE_NUMBERS = {
    (CALM, "dry-day"),
    (CALM, "few-wets-older"),
    (CALM, "few-wets-older-thriving"),
    (CALM, "few-feeds-older"),
    (CALM, "no-stool-known"),
    ("few-feeds", "no-feed-in-a-day"),
}
DAY_FIVE = {(CALM, "loss-late")}
"""A weight of day 5 that has risen, at 8 %: its row ends there where the weight rises."""
PUBLISHED_BILIRUBIN = {(CALM, "bilirubin-not-read")}


@cache
def told(infant: str, seen: str, asked_at: str) -> Told:
    """The step of the gravest finding, and its name; nothing calm has one."""
    as_of = BORN_AT + age_of(asked_at)
    assessment = assess(record_of(infant, seen), as_of, CONTENT, POLICY, engine=False)
    findings = [*assessment.findings, *assessment.infants[0].findings]
    step, code = max(((STEPS[one.level], one.code) for one in findings), default=(0, CALM))
    return step, code if step else CALM


def left_out(cases: Iterable[tuple[str, str, str]]) -> set[Pair]:
    """The pairs of neighbours between which a step is left out, the calmer first."""
    found = [told(*case) for case in cases]
    jumps = [sorted(pair) for pair in pairwise(found) if abs(pair[0][0] - pair[1][0]) > 1]
    return {(calmer[1], graver[1]) for calmer, graver in jumps}


def well(age_h: float, wets: int = 7, stools: int = 3, feeds: int = 9) -> str:
    at = f"{age_h:.4f} h"
    return f"{at}: {wets} wets in 24 h; {at}: {stools} stools in 24 h; {at}: count of {feeds} feeds"


def grown_g(age_d: float) -> float:
    """A usual course."""
    if age_d < 60:
        return BIRTH_G + 30 * (age_d - 8)
    return grown_g(59.999) + (22 if age_d < 120 else 20) * (age_d - 60)


def fallen(fall_g: float, age_d: float, over_d: float) -> tuple[str, str, str]:
    top_g = grown_g(age_d)
    back_d = 7 if age_d < 60 else 28
    before_g = grown_g(max(age_d - over_d - back_d, 9)) - 60
    seen = (
        f"4 d: {BIRTH_G - 150} g; {age_d - over_d - back_d:.4f} d: {before_g:.0f} g;"
        f" {age_d - over_d:.4f} d: {top_g:.0f} g; {age_d:.4f} d: {top_g - fall_g:.0f} g"
    )
    return GIRL, f"{seen}; {well(age_d * 24)}", f"{age_d * 24 + 0.3} h"


@pytest.mark.slow
@pytest.mark.parametrize("over_d", [0.6, 1, 2.9, 3.1])
@pytest.mark.parametrize("age_d", [16, 27, 45, 62, 75, 92, 182.9, 200])
def test_a_fall_by_the_gram_goes_by_single_steps(age_d, over_d):
    grams = range(0, 340, each(9))
    assert not left_out(fallen(one, age_d, over_d) for one in grams)


@pytest.mark.slow
@pytest.mark.parametrize("fall_g", [55, 90, 140, 180, 230, 320])
@pytest.mark.parametrize("over_d", [1, 3.5])
def test_a_fall_by_age_goes_by_single_steps(fall_g, over_d):
    for border_d in (61, 76, 91, 183):
        quarters = (border_d + quarter / 4 for quarter in range(-6, 7, each(2)))
        assert not left_out(fallen(fall_g, age_d, over_d) for age_d in quarters)


@pytest.mark.parametrize("fall_g", [55, 70, 90, 140])
def test_a_fall_by_the_time_between_goes_by_single_steps(fall_g):
    days = (0.5 + 0.25 * step for step in range(0, 24, each(2)))
    assert not left_out(fallen(fall_g, 40, over_d) for over_d in days)


def test_a_gain_that_has_stopped_goes_by_single_steps_of_age_and_gram():
    ages = (57 + half / 2 for half in range(44))
    assert not left_out(fallen(30, age_d, 5.5) for age_d in ages)
    assert not left_out(fallen(grams, 40, 4.5) for grams in range(-60, 80, 4))
    assert not left_out(fallen(grams, 40, 5.5) for grams in range(-120, 80, 4))


@pytest.mark.parametrize("fall_g", [55, 70, 90, 140, 200])
def test_an_early_fall_above_birth_weight_goes_by_single_steps_of_age(fall_g):
    def at(hours: float) -> tuple[str, str, str]:
        seen = f"72 h: 3300 g; {hours - 26} h: 3650 g; {hours} h: {3650 - fall_g} g"
        return GIRL, f"{seen}; {well(hours)}", f"{hours + 0.3} h"

    assert not left_out(at(hours) for hours in range(122, 220, each(2)))


def weighed(age_d: float) -> str:
    """Weights of an infant who thrives."""
    if age_d > 15:
        return f"{age_d - 7} d: {grown_g(age_d - 7):.0f} g; {age_d} d: {grown_g(age_d):.0f} g"
    before = "60 h: 3240 g; " if age_d > 3.5 else ""
    return f"{before}{age_d:.4f} d: {3230 + 25 * max(age_d - 2.5, 0):.0f} g"


def measured(said: str, age_d: float) -> tuple[str, str, str]:
    seen = f"{weighed(age_d)}; {well(age_d * 24)}; {age_d} d: {said}"
    return GIRL, seen, f"{age_d * 24 + 0.2} h"


def tenths(first: float, last: float) -> list[float]:
    return [round(first + 0.1 * step, 1) for step in range(round((last - first) * 10) + 1)]


@pytest.mark.slow
@pytest.mark.parametrize("age_d", [2, 20, 60, 100, 200])
def test_a_temperature_leaves_out_a_step_only_where_its_source_does(age_d):
    found = left_out(measured(f"{one} °C", age_d) for one in tenths(35.2, 40.2))
    assert found <= PUBLISHED_TEMPERATURE


@pytest.mark.parametrize("age_d", [20, 60])
def test_a_temperature_of_the_parent_leaves_out_a_step_only_at_its_published_line(age_d):
    found = left_out(measured(f"parent {one} °C", age_d) for one in tenths(36.5, 40))
    assert found <= PUBLISHED_TEMPERATURE


@pytest.mark.parametrize("what", ["parent_pulse", "parent_breaths"])
def test_pulse_and_breaths_of_the_parent_leave_out_what_their_source_does(what):
    numbers = range(90, 140, 3) if what == "parent_pulse" else range(16, 30)
    found = left_out(measured(f"parent observed {what} {one}", 20) for one in numbers)
    assert found == {(CALM, "pulse-fast" if what == "parent_pulse" else "breathes-fast")}


def test_a_mood_total_goes_by_single_steps():
    totals = (measured(f"parent observed mood_total {one}", 30) for one in range(31))
    assert not left_out(totals)


@pytest.mark.parametrize("kind", ["wets", "stools", "feeds"])
@pytest.mark.parametrize("age_d", [1.9, 3.2, 6, 16, 35, 100])
def test_a_count_leaves_out_a_step_only_where_no_whole_number_is_left(kind, age_d):
    def counted(number: int) -> tuple[str, str, str]:
        seen = f"{weighed(age_d)}; {well(age_d * 24, **{kind: number})}"
        return GIRL, seen, f"{age_d * 24 + 0.2} h"

    assert left_out(counted(number) for number in range(11)) <= WHOLE_NUMBERS


@pytest.mark.parametrize("wets", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("border_h", [48, 96, 144])
def test_wets_at_the_border_of_a_day_go_by_single_steps_of_age(border_h, wets):
    def counted(age_h: float) -> tuple[str, str, str]:
        return GIRL, f"{weighed(age_h / 24)}; {well(age_h, wets=wets)}", f"{age_h + 0.2} h"

    hours = (border_h + step for step in (-0.5, 0.1, 2, 5.9, 6.1, 8, 11.9, 12.1))
    assert not left_out(counted(one) for one in hours)


@pytest.mark.parametrize("age_h", [40, 60, 100, 200])
def test_a_bilirubin_leaves_out_a_step_only_at_its_published_line(age_h):
    def at(value: int) -> tuple[str, str, str]:
        return measured(f"bilirubin {value}", age_h / 24)

    assert left_out(at(value) for value in range(60, 460, 10)) <= PUBLISHED_BILIRUBIN


@pytest.mark.parametrize("mode", ["vaginal", "caesarean"])
@pytest.mark.parametrize("second_h", [84, 96, 118, 132, 150, 170])
def test_a_weight_after_an_answered_loss_goes_by_single_steps(second_h, mode):
    def then(grams: int) -> tuple[str, str, str]:
        seen = f"72 h: 3040 g; 74 h: answer physician; {second_h} h: {grams} g"
        infant = f"boy, 39+0, 3500 g, {mode}"
        return infant, f"{seen}; {well(second_h)}", f"{second_h + 0.3} h"

    assert left_out(then(grams) for grams in range(3044, 3260, each(2))) <= DAY_FIVE


PRETERM = "girl, 35+2, 2500 g, vaginal"
SLEEPY = (
    "",
    "sign does_not_wake_for_feeds",
    "sign weak_sucking",
    "sign hard_to_wake",
    "observed wakes_for_feeds woken",
)


def milkless(infant: str, age_h: float, hours: float, beside: str) -> tuple[str, str, str]:
    """Somebody says at an age how long it took no milk; what is seen beside it is seen then."""
    birth_g = 2500 if infant == PRETERM else BIRTH_G
    age_d = age_h / 24
    weight_g = birth_g * (0.97 if age_d < 8 else grown_g(age_d) / BIRTH_G)
    seen = f"{max(age_h - 0.5, 0.1):.3f} h: {weight_g:.0f} g; {well(age_h)}"
    if beside:
        seen += f"; {age_h:.3f} h: {beside}"
    seen += f"; {age_h:.3f} h: observed last_milk_h {hours}"
    return infant, seen, f"{age_h + 0.02:.3f} h"


@pytest.mark.slow
@pytest.mark.parametrize("beside", SLEEPY)
@pytest.mark.parametrize(
    ("infant", "age_d"),
    [(GIRL, 2), (GIRL, 12), (GIRL, 25), (GIRL, 40), (GIRL, 120), (GIRL, 200), (PRETERM, 2)],
)
def test_hours_without_milk_go_by_single_steps(infant, age_d, beside):
    hours = (half / 2 for half in range(5, 52, each(3)))
    found = [milkless(infant, age_d * 24, one, beside) for one in hours]
    assert not left_out(found)
    if beside != "sign hard_to_wake" or age_d < 92:
        assert told(*found[0])[0] < told(*found[-1])[0]


@pytest.mark.slow
@pytest.mark.parametrize("beside", SLEEPY)
@pytest.mark.parametrize("infant", [GIRL, PRETERM])
def test_hours_without_milk_by_age_go_by_single_steps(infant, beside):
    for border_h in (24, 21 * 24, 28 * 24, 92 * 24, 183 * 24, 366 * 24):
        for hours in (4, 6, 7, 8, 10, 12, 20, 24, 30):
            sides = (border_h - 0.25, border_h + 0.25)
            assert not left_out(milkless(infant, one, hours, beside) for one in sides)


def of_older(fall_g: float, age_d: float, over_d: float, top_g: float) -> tuple[str, str, str]:
    """A fall at six months or later, of an infant who gained before."""
    before_d = age_d - over_d
    seen = (
        f"{before_d - 40:.3f} d: {top_g - 500:.0f} g; {before_d:.3f} d: {top_g:.0f} g;"
        f" {age_d:.3f} d: {top_g - fall_g:.0f} g"
    )
    return GIRL, f"{seen}; {well(age_d * 24)}", f"{age_d * 24 + 0.3} h"


@pytest.mark.slow
@pytest.mark.parametrize("over_d", [1, 3.1, 30])
@pytest.mark.parametrize(
    ("age_d", "top_g"), [(200, 6000), (300, 7400), (420, 10300), (700, 12000), (1200, 14000)]
)
def test_a_fall_of_an_older_infant_by_the_gram_goes_by_single_steps(age_d, top_g, over_d):
    grams = range(0, int(top_g * 0.06), each(12))
    assert not left_out(of_older(one, age_d, over_d, top_g) for one in grams)


@pytest.mark.parametrize("over_d", [1, 3.1, 30])
@pytest.mark.parametrize("fall_g", [100, 160, 200, 260, 310, 400, 480, 520, 700])
def test_a_fall_about_the_first_birthday_goes_by_single_steps(fall_g, over_d):
    days = (365.5, 366.5)
    assert not left_out(of_older(fall_g, age_d, over_d, 9800) for age_d in days)
