"""The supplement of a proposal: begun, stepped, followed by the need, or left as it is."""

from __future__ import annotations

import msgspec
import pytest

from plan_case import BIRTH, SLOW, WELL, a_weight, an_infants, asked, counts, proposed
from suffice.clinical.entry import Entry, Feed, Plan, Temperature
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.plan.known import Asked, known_of
from suffice.plan.parameters import plan_parameters
from suffice.plan.supplement import Supplement, supplement_of

PARAMETERS = plan_parameters(load())
LAST = Plan(
    move="first",
    supplement_ml_per_day=240.0,
    supplement_ml=30.0,
    supplement_feeds_count=8,
    supplement_most_ml=40.0,
)


def amount(value: float, sd: float) -> Figure:
    half = 1.2815515655446004 * sd
    working = Working(formula="x")
    return Figure(
        value=value, unit="mL/d", low=value - half, high=value + half, level=0.8, working=working
    )


def of(case: Asked, **known: object) -> Supplement:
    changed = msgspec.structs.replace(known_of(case, PARAMETERS), **known)
    return supplement_of(case, changed, PARAMETERS)


def with_plan(plan: Plan, day: float = 8) -> Asked:
    return asked(*SLOW, an_infants("plan", plan, day), day=15.2, engine=False)


def test_more_is_given_where_that_can_be_sized() -> None:
    found = of(with_plan(LAST), need=amount(600, 20), taken=amount(200, 20))
    assert found.move == "up"
    assert found.ml_per_day is not None
    assert found.ml_per_day > 340
    assert found.step is None


@pytest.mark.parametrize("taken", [amount(480, 20), amount(200, 300), None])
def test_where_it_gets_too_little_it_never_goes_down(taken: Figure | None) -> None:
    """Nothing was weighed since that plan: then it stays as it is."""
    found = of(with_plan(LAST, day=15.1), need=amount(600, 20), taken=taken)
    assert (found.move, found.ml_per_day) == ("hold", 240.0)
    assert (found.ml, found.feeds_count, found.most_ml) == (30.0, 8, 40.0)


@pytest.mark.parametrize("taken", [amount(480, 20), amount(200, 300), None])
def test_where_its_gain_fell_off_it_goes_a_step_back_though_no_amount_can_be_sized(
    taken: Figure | None,
) -> None:
    found = of(with_plan(LAST), need=amount(600, 20), taken=taken)
    assert (found.move, found.ml_per_day) == ("back", 270.0)


def test_what_was_only_written_down_is_no_amount_to_step_back_from() -> None:
    fed = tuple(
        an_infants("f", Feed(milk="formula", volume_ml=30), 14.4 + n / 10) for n in range(8)
    )
    case = asked(*SLOW, *fed, an_infants("b", Feed(milk="breast"), 15), day=15.2, engine=False)
    assert of(case, need=amount(600, 20), taken=None).ml_per_day == 240.0


def test_what_is_needed_follows_where_all_is_given() -> None:
    more = of(with_plan(LAST), need=amount(600, 20), at_breast=False)
    assert (more.move, more.step) == ("up", None)
    less = of(
        with_plan(msgspec.structs.replace(LAST, supplement_ml_per_day=900.0)),
        need=amount(600, 20),
        at_breast=False,
    )
    assert less.move == "down"
    unknown = of(with_plan(LAST), need=None, at_breast=False)
    assert (unknown.move, unknown.ml_per_day) == ("hold", 240.0)


def test_an_amount_that_is_not_known_ends_nothing() -> None:
    """A plan that left the supplement open, of an infant that gets too little: no word of an end."""
    left_open = an_infants("plan", Plan(move="first", express_for="build", sessions_count=8), 15)
    slow = proposed(*SLOW, left_open, day=15.2)
    assert (slow.plan.move, slow.plan.supplement_ml_per_day) == ("hold", None)
    well = proposed(*WELL, an_infants("plan", Plan(move="first"), 15), *counts(21), day=21.5)
    assert (well.plan.move, well.plan.supplement_ml_per_day) == ("hold", 0.0)


def test_after_it_has_settled_it_begins_again_as_more() -> None:
    settled = Plan(move="settle", supplement_ml_per_day=0.0)
    again = of(with_plan(settled), need=amount(600, 20), taken=amount(300, 20))
    assert again.move == "up"
    well = asked(*WELL, an_infants("plan", settled, 15), *counts(21), day=21.5, engine=False)
    assert (of(well).move, of(well).ml_per_day) == ("settle", 0.0)


def test_what_was_only_written_down_is_asked_about_and_not_stepped() -> None:
    weights = [a_weight(3300 + 50 * (day - 3), day) for day in range(3, 25, 3)]
    fed = [an_infants("f", Feed(milk="formula", volume_ml=40), 23.5 + n / 10) for n in range(6)]
    breast = an_infants("b", Feed(milk="breast"), 24.1)
    found = of(asked(BIRTH, *weights, *fed, breast, *counts(24), day=24.2, engine=False))
    assert (found.move, found.ml_per_day) == ("first", 240.0)
    assert any("ask whether that is all" in str(one) for one in found.line.says)


def test_an_unwell_infant_loses_none_of_it() -> None:
    weights = [a_weight(3300 + 50 * (day - 3), day) for day in range(3, 25, 3)]
    plan = an_infants("plan", Plan(move="first", supplement_ml_per_day=240.0), 12)
    fever = an_infants("t", Temperature(temperature_c=39.0), 24.1)
    case = asked(BIRTH, *weights, plan, *counts(24), fever, day=24.2, engine=False)
    assert case.is_unwell
    found = of(case)
    assert (found.move, found.ml_per_day) == ("hold", 240.0)


@pytest.mark.parametrize("given", [35.0, 60.0, 90.0, 165.0, 240.0, 330.0, 570.0, 640.0])
def test_a_step_down_never_ends_where_it_was_nor_below_its_step(given: float) -> None:
    weights = [a_weight(3300 + 50 * (day - 3), day) for day in range(3, 25, 3)]
    plan = an_infants("plan", Plan(move="first", supplement_ml_per_day=given), 12)
    found = of(asked(BIRTH, *weights, plan, *counts(24), day=24.2, engine=False))
    assert found.step is not None
    assert found.move in {"down", "settle"}
    assert found.ml_per_day is not None
    assert found.step.to_ml_per_day - 1e-9 <= found.ml_per_day < given


def test_what_ended_too_early_comes_back_until_an_amount_can_be_sized() -> None:
    """No amount is safe both ways, and it gets too little since: what was given before, not nothing."""
    ended = Plan(move="settle", supplement_ml_per_day=0.0)
    plans = [an_infants("plan", LAST, 8), an_infants("end", ended, 11)]
    found = of(asked(*SLOW, *plans, day=15.2, engine=False), taken=None)
    assert (found.move, found.ml_per_day) == ("back", 240.0)
    begun = of(asked(*SLOW, plans[1], day=15.2, engine=False), taken=None)
    assert begun.ml_per_day is None


def test_who_takes_more_than_was_planned_and_thrives_is_not_cut_back() -> None:
    away = msgspec.structs.replace(LAST, at_breast="not now")
    fed = [an_infants(f"f{n}", Feed(milk="formula", volume_ml=60), 20.7 + n / 10) for n in range(8)]
    case = asked(*WELL, *counts(21), an_infants("plan", away, 18), *fed, day=21.5, engine=False)
    found = of(case, need=None)
    # 480 mL at each of ten feeds, as a family can measure it: no feed of an infant that lives on bottles is empty.
    assert (found.move, found.ml_per_day, found.feeds_count) == ("up", 500.0, 10)


def bottles(each_ml: float, day: float, milk: str = "formula") -> list[Entry]:
    """Eight feeds in the 24 hours up to then."""
    return [
        an_infants(f"b{n}", Feed(milk=milk, volume_ml=each_ml), day - (7 - n) / 8 - 0.02)
        for n in range(8)
    ]


@pytest.mark.parametrize(
    ("day", "each_ml", "gives_ml"),
    [
        (1.7, 20, 20),  # the middle of the second day is 10 mL, after the breast
        (2.6, 35, 35),
        (2.6, 15, 25),  # less than the protocol: as the protocol says
        (2.6, 90, 25),  # more than 200 mL/kg: too much to repeat
    ],
)
def test_in_the_first_days_what_it_takes_by_bottle_is_not_cut_to_what_is_given_after_the_breast(
    day: float, each_ml: float, gives_ml: float
) -> None:
    fed = bottles(each_ml, day)
    found = of(
        asked(BIRTH, a_weight(3330, day - 0.1), *fed, day=day, engine=False), at_breast=False
    )
    assert (found.ml, found.feeds_count) == (gives_ml, 8)


def test_who_lost_too_much_on_bottles_is_not_left_at_what_it_takes() -> None:
    """More than a tenth lost on day 5, on 93 mL/kg a day."""
    fed = bottles(35, 5.05, "expressed")
    weights = (a_weight(3120, 3), a_weight(3080, 5))
    case = asked(BIRTH, *weights, *fed, day=5.1, engine=False)
    assert case.is_short
    found = of(case, at_breast=False)
    assert found.ml_per_day is not None
    assert 140 <= found.ml_per_day / 3.08 <= 170


def test_who_gets_enough_on_less_than_it_needs_is_asked_about_before_it_is_given_more() -> None:
    """On 560 mL and a good gain it was given 800 mL without a word."""
    fed = bottles(50, 21.4)
    case = asked(*WELL, *counts(21), *fed, day=21.5, engine=False)
    assert case.suffices
    found = of(case, need=amount(640, 20), at_breast=False)
    assert found.ml_per_day is not None
    assert found.ml_per_day > 400
    warned = " ".join(text_of(one, Policy()) for one in found.line.warnings).replace(
        "\N{NO-BREAK SPACE}", " "
    )
    assert "Only 400 mL was written down in 24 h" in warned
