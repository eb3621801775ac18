"""The last plan against what was written down since."""

from __future__ import annotations

import pytest

from people import an_entry
from plan_case import BIRTH, a_weight, an_infants, asked
from spoken import in_sentences
from suffice.clinical.entry import Entry, Expression, Feed, FeedCount, Plan, Weight
from suffice.plan.happened import since_plan

PLAN = an_infants(
    "plan", Plan(move="first", feeds_count=9, supplement_ml_per_day=240.0, sessions_count=8), 10
)


def rows(*entries: Entry, day: float = 12) -> dict[str, tuple[str, str]]:
    since = since_plan(
        asked(BIRTH, a_weight(3300, 3), a_weight(3400, 9), PLAN, *entries, day=day, engine=False)
    )
    assert since is not None
    return {
        str(one.name): (in_sentences([one.planned]), in_sentences([one.was])) for one in since.rows
    }


def test_without_a_plan_there_is_nothing_to_compare() -> None:
    assert since_plan(asked(BIRTH, day=12, engine=False)) is None


def test_what_was_not_written_down_is_not_none() -> None:
    found = rows()
    assert found["feeds in 24 h"] == ("9", "Not written down")
    assert found["supplement in 24 h"] == ("240 mL", "Not written down")
    assert found["expression sessions in 24 h"] == ("8", "Not written down")
    assert found["gain since"][1] == "Not weighed since"


def test_it_is_what_was_a_day_since_the_plan() -> None:
    fed = [an_infants("f", Feed(milk="formula", volume_ml=50), 10.1 + n / 5) for n in range(9)]
    old = an_infants("f", Feed(milk="formula", volume_ml=50), 9.5)
    pumped = [
        an_entry(f"x{n}", Expression(left_ml=30), infant=None, at_h=241 + 8 * n) for n in range(5)
    ]
    found = rows(*fed, old, *pumped, a_weight(3480, 11.9))
    assert found["feeds in 24 h"][1] == "4.5"
    assert found["supplement in 24 h"][1] == "225 mL"
    assert found["expression sessions in 24 h"][1] == "2.5"
    assert found["gain since"][1] == "28 g/day (3400 g to 3480 g in 2.9 days)"


def test_days_on_which_nothing_was_written_down_are_not_days_without_milk() -> None:
    """A plan of a week ago, one day of which was written down."""
    fed = [
        an_infants(f"f{n}", Feed(milk="formula", volume_ml=30), 16.05 + n / 8.5) for n in range(8)
    ]
    found = rows(*fed, day=17)
    assert found["feeds in 24 h"][1] == "8.0; written down on 1 of 7 days"
    assert found["supplement in 24 h"][1] == "240 mL; written down on 1 of 7 days"
    assert found["expression sessions in 24 h"][1] == "Not written down"


def test_a_count_of_a_day_says_more_than_single_feeds() -> None:
    found = rows(an_infants("n", FeedCount(count=11), 11), an_infants("f", Feed(milk="breast"), 11))
    assert found["feeds in 24 h"][1] == "11"


def test_less_than_a_day_is_not_made_into_one() -> None:
    fed = an_infants("f", Feed(milk="formula", volume_ml=50), 10.1)
    assert rows(fed, day=10.25)["supplement in 24 h"][1] == "50 mL"


def test_what_the_plan_leaves_open_was_not_planned() -> None:
    bare = an_infants("plan", Plan(move="hold"), 11)
    since = since_plan(asked(BIRTH, PLAN, bare, day=12, engine=False))
    assert since is not None
    assert {str(one.planned) for one in since.rows} == {"not planned", ""}
    assert since.days == pytest.approx(1)


def test_a_weight_in_clothes_is_no_gain_since_the_plan() -> None:
    dressed = an_infants("w", Weight(weight_g=3900, clothing="clothed"), 11.9)
    assert rows(dressed)["gain since"][1] == "Not weighed since"
