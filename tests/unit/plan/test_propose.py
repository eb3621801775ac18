"""A whole proposal, from the record of a family: what it says, and what it never says."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from people import BORN_AT, an_entry
from plan_case import (
    BIRTH,
    LATE_PRETERM,
    SLOW,
    WEIGHED,
    WELL,
    a_weight,
    an_infants,
    asked,
    counts,
    proposed,
)
from suffice.clinical.entry import (
    Birth,
    ContactStart,
    Entry,
    Expression,
    Feed,
    FeedCount,
    ParentDay,
    Plan,
)
from suffice.clinical.production import Production, SideProduction
from suffice.clinical.working import Figure, Working
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.plan.given import method_of
from suffice.plan.known import known_of
from suffice.plan.parameters import plan_parameters
from suffice.plan.propose import Proposal, _made, propose


def said(proposal: Proposal, part: str) -> str:
    line = proposal.line(part)  # type: ignore[arg-type]
    return " ".join(text_of(one, Policy()) for one in (*line.says, *line.warnings))


def test_a_thriving_infant_gets_no_supplement_and_may_sleep() -> None:
    found = proposed(*WELL, day=21.5)
    assert (found.plan.move, found.plan.supplement_ml_per_day) == ("first", 0.0)
    assert found.plan.gap_day_h is None
    assert "no need to wake it" in said(found, "feeds")
    assert found.plan.express_for is None
    assert (found.plan.ends_at, found.step) == (None, None)


def test_what_is_taken_in_weighed_feeds_sizes_a_supplement() -> None:
    found = proposed(*SLOW, *WEIGHED, day=15.2)
    plan = found.plan
    assert plan.supplement_ml_per_day == (plan.supplement_ml or 0) * (
        plan.supplement_feeds_count or 0
    )
    assert 100 <= (plan.supplement_ml_per_day or 0) <= 250
    assert plan.proposed_ml_per_day == plan.supplement_ml_per_day
    assert (plan.milk, plan.method, plan.express_for) == ("own, donor, formula", "cup", "build")
    assert plan.ends_at == (BORN_AT + timedelta(days=21)).replace(hour=12, minute=0)
    assert plan.weigh_at is not None
    assert plan.weigh_at <= BORN_AT + timedelta(days=17.2)
    assert "A plan starts from" in said(found, "supplement")
    assert found.line("supplement").workings[0].constants
    assert "about 9.8 h of 24" in said(found, "minutes")


def test_weights_alone_size_none_and_it_is_said_what_to_do() -> None:
    found = proposed(*SLOW, day=15.2)
    assert found.plan.supplement_ml_per_day is None
    assert found.plan.supplement_ml is None
    assert "Weigh every feed for 24 hours first." in said(found, "supplement")
    assert "Do not wait" in said(found, "supplement")
    assert found.plan.express_for == "build"


def test_an_open_flag_keeps_the_gaps_short() -> None:
    plan = proposed(*SLOW, day=15.2).plan
    assert (plan.gap_day_h, plan.gap_night_h) == (3.0, 3.0)


def test_a_well_infant_not_yet_at_birth_weight_may_have_one_longer_gap() -> None:
    entries = (BIRTH, a_weight(3300, 3), a_weight(3400, 6), *counts(6))
    plan = proposed(*entries, day=6.2).plan
    assert (plan.gap_day_h, plan.gap_night_h) == (3.0, 4.0)


def test_gaps_stay_short_for_whom_a_long_one_is_a_risk() -> None:
    """Small and not weighed yet; does not get on; at term now, born late preterm, not back at birth weight."""
    small = an_infants("b", Birth(zone="UTC", gestation_days=267, birth_weight_g=2300.0), 0)
    assert proposed(small, day=0.25).plan.gap_night_h == 3.0
    assert proposed(BIRTH, *counts(0.8), day=0.9, problems=("not_on",)).plan.gap_night_h == 3.0
    late = an_infants("b", Birth(zone="UTC", gestation_days=257, birth_weight_g=2700.0), 0)
    rising = (late, a_weight(2545, 2.5), a_weight(2570, 3.8), *counts(3.8))
    assert proposed(*rising, day=3.9).plan.gap_night_h == 3.0
    back = (late, a_weight(2545, 2.5), a_weight(2700, 8), a_weight(2790, 11), *counts(11))
    assert proposed(*back, day=11.2).plan.gap_night_h != 3.0


def test_before_34_weeks_no_feed_at_the_breast_is_planned_that_was_not_seen() -> None:
    early = an_infants("b", Birth(zone="UTC", gestation_days=182, birth_weight_g=820.0), 0)
    assert proposed(early, a_weight(870, 16), day=16.1).plan.at_breast == "not now"
    seen = an_infants("f", Feed(milk="breast", minutes=10), 16)
    assert proposed(early, a_weight(870, 16), seen, day=16.1).plan.at_breast == "every feed"


def test_on_the_first_day_drops_are_given_from_a_spoon() -> None:
    fed = an_infants("f", Feed(milk="expressed", volume_ml=2.0), 0.7)
    plan = proposed(BIRTH, fed, day=0.8, problems=("not_on",)).plan
    assert (plan.method, plan.supplement_ml) == ("spoon", 6.0)


def test_who_gets_enough_from_bottles_is_given_what_it_takes_and_no_more() -> None:
    grown = (BIRTH, a_weight(6800, 120), a_weight(7400, 150))
    fed = tuple(
        an_infants("f", Feed(milk="expressed", volume_ml=125), 149.1 + n / 6) for n in range(6)
    )
    agreed = Plan(move="first", at_breast="not now", supplement_ml_per_day=760.0)
    found = proposed(*grown, an_infants("p", agreed, 149), *fed, *counts(150)[:1], day=150.05)
    assert 750 <= (found.plan.supplement_ml_per_day or 0) <= 780
    assert (found.plan.move, found.plan.feeds_count) == ("hold", 6)
    assert "It gets enough as it is given." in said(found, "supplement")


def test_as_many_feeds_as_were_counted() -> None:
    entries = (BIRTH, a_weight(3300, 3), a_weight(3400, 6), *counts(6))
    assert proposed(*entries, day=6.2).plan.feeds_count == 10
    assert proposed(*WELL, day=21.5).plan.feeds_count == 8


def test_in_the_first_days_it_is_the_amount_of_the_protocol() -> None:
    plan = proposed(BIRTH, a_weight(3080, 2.6), day=2.7).plan
    assert (plan.supplement_ml, plan.supplement_most_ml) == (25.0, 30.0)


def test_a_late_preterm_infant_ends_the_breast_part_in_time() -> None:
    found = proposed(LATE_PRETERM, a_weight(2340, 1.6), day=1.7)
    assert (found.plan.supplement_ml, found.plan.breast_minutes) == (15.0, 30.0)
    assert (found.plan.gap_day_h, found.plan.gap_night_h) == (3.0, 3.0)
    assert "At most 30 min in all" in said(found, "breast")


def test_nothing_known_is_no_number() -> None:
    found = proposed(BIRTH, day=4)
    assert found.plan.supplement_ml_per_day is None
    assert "mL" not in said(found, "supplement")


def test_an_old_weight_is_no_number() -> None:
    found = proposed(*SLOW, *WEIGHED, day=24)
    assert found.plan.supplement_ml_per_day is None
    assert "mL" not in said(found, "supplement")


def test_an_infant_fed_formula_alone_gets_its_need_and_nobody_is_told_to_express() -> None:
    fed = tuple(an_infants("f", Feed(milk="formula", volume_ml=70), 20.5 + n / 8) for n in range(8))
    plan = proposed(*WELL, *fed, day=21.5).plan
    assert (plan.at_breast, plan.express_for, plan.method) == ("not now", None, "bottle")
    assert 550 < (plan.supplement_ml_per_day or 0) < 800


GIVEN = Plan(
    move="first", supplement_ml_per_day=240.0, supplement_ml=30.0, supplement_feeds_count=8,
    goal="only the breast",
)  # fmt: skip


def stepping(gain: float, *, plans: tuple[Entry, ...], counted: bool = True) -> Proposal:
    weights = tuple(a_weight(3300 + gain * (day - 3), day) for day in range(3, 25, 3))
    noted = counts(24) if counted else ()
    return proposed(BIRTH, *weights, *plans, *noted, day=24.2)


def a_plan(day: float, fact: Plan = GIVEN) -> Entry:
    return an_infants("plan", fact, day)


def test_a_brisk_gain_steps_down_and_never_ends_where_it_was() -> None:
    found = stepping(45, plans=(a_plan(12),))
    assert (found.plan.move, found.plan.proposed_move) == ("down", "down")
    assert found.step is not None
    assert found.step.to_ml_per_day <= (found.plan.supplement_ml_per_day or 0) < 240
    assert "Step down." in said(found, "supplement")
    assert found.plan.goal == "only the breast"
    assert found.plan.weigh_at == (BORN_AT + timedelta(days=27)).replace(hour=12, minute=0)


def test_not_weighed_since_the_last_plan_holds_it_as_it_was() -> None:
    found = stepping(45, plans=(a_plan(24.1),))
    assert found.plan.move == "hold"
    assert (found.plan.supplement_ml, found.plan.supplement_ml_per_day) == (30.0, 240.0)
    assert "not weighed since" in said(found, "supplement")


def test_diapers_that_were_not_counted_hold_it() -> None:
    assert stepping(45, plans=(a_plan(12),), counted=False).plan.move == "hold"


def test_held_twice_running_a_physician_is_written_to() -> None:
    held = Plan(move="hold", supplement_ml_per_day=240.0)
    found = stepping(32, plans=(a_plan(12), a_plan(15, held), a_plan(18, held)))
    assert found.plan.move == "hold"
    assert found.tells_physician
    assert "write to a physician" in said(found, "supplement")


NO_AMOUNT_IS_SAFE = (BIRTH, a_weight(4200, 30), a_weight(4700, 60), a_weight(4950, 90))
"""Gains 8 g/day in its third month; what it takes at the breast was never weighed."""


def test_where_a_physician_orders_what_is_given_meanwhile_a_physician_is_written_to() -> None:
    found = proposed(*NO_AMOUNT_IS_SAFE, day=90)
    assert found.plan.supplement_ml_per_day is None
    assert "until then give what a physician orders" in said(found, "supplement")
    assert found.tells_physician


def test_the_last_of_it_settles() -> None:
    more = Plan(move="first", supplement_ml_per_day=90.0)
    small = Plan(move="down", supplement_ml_per_day=60.0)
    found = stepping(45, plans=(a_plan(12, more), a_plan(18, small)))
    assert (found.plan.move, found.plan.supplement_ml_per_day) == ("settle", 0.0)


def test_where_it_gets_too_little_nothing_is_taken_away() -> None:
    found = proposed(*SLOW, a_plan(8), day=15.2)
    assert found.plan.move in {"back", "up"}
    assert (found.plan.supplement_ml_per_day or 0) >= 240


def test_own_milk_alone_where_enough_is_made() -> None:
    pumped = tuple(
        an_entry(f"x{n}", Expression(left_ml=60, right_ml=60), infant=None, at_h=24 * 21 + 3 * n)
        for n in range(25)
    )
    weights = tuple(a_weight(3300 + 30 * (day - 3), day) for day in range(3, 25, 3))
    fed = tuple(
        an_infants("f", Feed(milk="expressed", volume_ml=70), 23.2 + n / 8) for n in range(8)
    )
    found = proposed(BIRTH, *weights, *fed, *pumped, day=24.2)
    assert "Both: 960 mL/day on this schedule" in said(found, "made")
    assert found.plan.milk == "own"
    assert found.plan.express_for == "keep"


def test_the_goal_is_the_familys() -> None:
    start = an_entry(
        "start", ContactStart(place="home", goal="no more top-ups"), infant=None, at_h=500
    )
    assert proposed(*WELL, start, day=21.5).plan.goal == "no more top-ups"


@pytest.mark.parametrize("hour", [0, 5, 12, 13, 23])
def test_nobody_is_asked_to_come_at_night(hour: int) -> None:
    day = 14.0 + (hour - 4.5) / 24
    plan = proposed(*SLOW[:-1], day=day).plan
    assert plan.contact_at is not None
    assert 8 <= plan.contact_at.hour <= 18
    assert plan.contact_at.minute == 0
    hours = (plan.contact_at - BORN_AT) / timedelta(hours=1) - 24 * day
    assert 0 < hours <= 48


@pytest.mark.parametrize("day", [1.7, 4.0, 21.5])
def test_every_plan_says_when_to_call(day: float) -> None:
    entries = [one for one in WELL if one.true_at <= BORN_AT + timedelta(days=day)]
    calls = [text_of(one, Policy()) for one in proposed(*entries, day=day).calls]
    assert calls[0].startswith("Blue or grey, limp")
    assert any("38.0" in one for one in calls)


def test_a_fever_to_call_for_is_that_of_the_flags() -> None:
    entries = [one for one in WELL if one.true_at <= BORN_AT + timedelta(days=4)]
    case = asked(*entries, day=4)
    own = load().with_choices({"fever_limit": "temperature.repeat_c"})
    own = own.with_overrides({"ranking.parent_fever_c": 38.5})
    calls = [text_of(one, Policy()) for one in propose(replace(case, content=own)).calls]
    assert any(one.startswith("Fever of 37.5") for one in calls)
    assert any(one.startswith("Parent: a fever of 38.5") for one in calls)


@pytest.mark.parametrize(("day", "high"), [(120, "39.0"), (200, "40.0")])
def test_past_three_months_a_high_fever_is_a_physicians_and_any_other_the_consultants(
    day: float, high: str
) -> None:
    calls = [text_of(one, Policy()) for one in proposed(*WELL, day=day).calls]
    (fever,) = [one for one in calls if one.startswith("Fever of")]
    assert fever.startswith(f"Fever of {high}")
    assert "Cold and floppy: the hospital now." in calls


def test_a_sore_breast_is_not_pumped_to_build() -> None:
    found = proposed(*SLOW, *WEIGHED, day=15.2, problems=("engorgement",))
    assert (found.plan.express_for, found.plan.session_by) == ("relieve", "hand")


@pytest.mark.parametrize(
    ("ml", "method"), [(5, "spoon"), (5.1, "cup"), (60, "cup"), (61, "bottle")]
)
def test_small_amounts_go_by_spoon_and_large_ones_by_bottle(ml: float, method: str) -> None:
    found = asked(*WELL, day=21.5, engine=False)
    known = known_of(found, plan_parameters(load()))
    assert method_of(found, ml, known, plan_parameters(load())) == method


@pytest.mark.parametrize(("day", "method"), [(3.2, "cup"), (21.5, "bottle")])
def test_all_milk_by_cup_is_for_the_first_days(day: float, method: str) -> None:
    found = asked(*WELL, day=day, engine=False)
    away = replace(known_of(found, plan_parameters(load())), at_breast=False)
    assert method_of(found, 45, away, plan_parameters(load())) == method


def test_a_side_that_is_not_known_says_why_beside_one_that_is() -> None:
    known = Figure(
        value=240.0, unit="mL/d", low=200.0, high=280.0, level=0.8, working=Working(formula="x")
    )
    left, right = SideProduction(per_day=known), SideProduction(why_none="Too few sessions.")
    line = _made(Production(left=left, right=right), ())
    says = [text_of(one, Policy()).replace("\N{NO-BREAK SPACE}", " ") for one in line.says]
    assert says == [
        "Left: 240 mL/day on this schedule (200 mL/day to 280 mL/day)",
        "Right: Too few sessions.",
    ]
    assert line.workings == (known.working,)


def test_a_plan_at_the_breast_with_only_bottles_written_down_asks_whether_it_is_there() -> None:
    plan = an_infants("p", Plan(move="first", at_breast="every feed"), 18)
    fed = an_infants("f", Feed(milk="formula", volume_ml=20), 21.2)
    found = proposed(*WELL, *counts(21), plan, fed, day=21.5)
    assert found.plan.at_breast == "every feed"
    asks = " ".join(text_of(one, Policy()) for one in found.line("breast").warnings)
    assert "ask whether it still feeds there" in asks
    fed_there = an_infants("b", Feed(milk="breast"), 21.3)
    assert (
        proposed(*WELL, *counts(21), plan, fed, fed_there, day=21.5).line("breast").warnings == ()
    )


def test_in_the_first_days_feeds_are_watched_and_not_weighed() -> None:
    """An hour after birth a scale tells nothing of some millilitres."""
    found = proposed(BIRTH, day=0.1)
    assert "Watch a feed" in said(found, "supplement")
    assert "Weigh every feed" not in said(found, "supplement")
    assert "Weigh every feed" in said(proposed(BIRTH, a_weight(3420, 4.5), day=8), "supplement")


def test_whoever_is_away_expresses_meanwhile_and_leaves_milk_for_the_hours() -> None:
    """The amount for an hour away is of infants from four weeks on (`plan.away_amount_from_d`)."""
    away = an_entry("day", ParentDay(away="8-17"), infant=None, at_h=24 * 20)
    for day, words in ((21.5, "before four weeks go by what it takes"), (28.5, "270 mL to 360 mL")):
        found = proposed(*WELL, *counts(int(day)), away, day=day)
        assert (found.plan.express_for, found.plan.sessions_count) == ("keep", 3)
        assert words in said(found, "expressing").replace("\N{NO-BREAK SPACE}", " ")
    short = an_entry("day", ParentDay(away="8-12"), infant=None, at_h=24 * 20)
    assert proposed(*WELL, *counts(21), short, day=21.5).plan.express_for is None


def test_who_may_expect_one_wet_diaper_is_not_told_twice_what_to_do_without_one() -> None:
    """'Fewer than 1 wet diapers: the consultant today' stood above 'no wet diaper: a physician by phone now'."""

    def calls(day: float) -> list[str]:
        found = proposed(BIRTH, day=day).calls
        return [text_of(one, Policy()).replace("\N{NO-BREAK SPACE}", " ") for one in found]

    assert not any(one.startswith("Fewer than") for one in calls(0.8))
    assert "No wet diaper in 24 h: a physician by phone now." in calls(0.8)
    assert any(one.startswith("Fewer than 6 wet diapers") for one in calls(9))


def test_an_interval_stands_in_the_unit_of_its_value() -> None:
    """'16.4 fl oz/day (80 % interval 443 to 533)': the ends were millilitres."""
    known = Figure(
        value=240.0, unit="mL/d", low=200.0, high=280.0, level=0.8, working=Working(formula="x")
    )
    (says, *_) = _made(
        Production(left=SideProduction(per_day=known), right=SideProduction(why_none="Too few.")),
        (),
    ).says
    said = text_of(says, Policy(volume_unit="oz")).replace("\N{NO-BREAK SPACE}", " ")
    assert said == "Left: 8.1 fl oz/day on this schedule (6.8 fl oz/day to 9.5 fl oz/day)"


def test_a_supplement_that_goes_on_is_given_at_no_more_feeds_than_there_are() -> None:
    """Six feeds counted, milk at eight by the plan before: the page asked for 8 of 6, and the form refused its own proposal."""
    before = Plan(
        move="first", feeds_count=8, at_breast="every feed",
        supplement_ml=50, supplement_feeds_count=8, supplement_ml_per_day=400,
    )  # fmt: skip
    course = (BIRTH, a_weight(3300, 3), a_weight(3420, 7), a_weight(3900, 21), a_weight(4150, 29))
    six = an_infants("feeds", FeedCount(count=6), 30)
    found = proposed(*course, an_infants("p", before, 28), six, day=30.2)
    assert found.plan.supplement_feeds_count == 8
    assert found.plan.feeds_count == 8
    (says, *_) = found.line("feeds").says
    assert "At least 8 feeds" in text_of(says, Policy()).replace("\N{NO-BREAK SPACE}", " ")
