"""Amounts of a supplement by age: each day has its own, and a plan that holds for days has that of its day.

Academy of Breastfeeding Medicine, protocol 3 (2017): 2 to 10 mL a feed in the first 24 h, 5 to 15 to 48 h, 15 to 30 to
72 h, 30 to 60 to 96 h; late preterm infants 5 to 10 mL on the first day, 10 to 30 later.
"""

from __future__ import annotations

import msgspec
import pytest

from people import BORN_AT
from plan_case import BIRTH, an_infants, asked
from spoken import in_sentences
from suffice.clinical.entry import Entry, Plan
from suffice.knowledge.store import load
from suffice.plan.by_age import amounts_by_day, at_age, rounded_up
from suffice.plan.happened import since_plan
from suffice.plan.known import _changes, given_ml_per_day
from suffice.plan.parameters import plan_parameters
from suffice.plan.propose import propose
from suffice.plan.supplement import _before_it_ended

PARAMETERS = plan_parameters(load())
TERM, LATE = 276, 245
FIRST_DAY = Plan(
    move="first",
    feeds_count=8,
    supplement_ml=6,
    supplement_most_ml=10,
    supplement_feeds_count=8,
    supplement_ml_per_day=48,
    milk="own",
    method="spoon",
)


@pytest.mark.parametrize(
    ("age_h", "gestation_days", "amounts"),
    [
        (0, TERM, [(0, 6, 10), (24, 10, 15), (48, 25, 30), (72, 45, 60)]),
        (23.9, None, [(0, 6, 10), (24, 10, 15), (48, 25, 30), (72, 45, 60)]),
        (48, TERM, [(48, 25, 30), (72, 45, 60)]),
        (95.9, TERM, [(72, 45, 60)]),
        (96, TERM, []),
        (-1, TERM, []),
        (30, LATE, [(24, 15, 20), (48, 25, 30)]),
        (72, LATE, []),
    ],
)
def test_each_day_has_its_amount(
    age_h: float, gestation_days: int | None, amounts: list[tuple[float, float, float]]
) -> None:
    assert [tuple(one) for one in amounts_by_day(age_h, gestation_days, PARAMETERS)] == amounts


@pytest.mark.parametrize(
    ("age_h", "amounts", "later"),
    [
        (20, (6, 10, 48), [24, 48, 72]),
        (24, (10, 15, 80), [48, 72]),
        (50, (25, 30, 200), [72]),
        (90, (45, 60, 360), []),
        (150, (45, 60, 360), []),  # what the protocol says last is held until the plan is renewed
        (5, (6, 10, 48), [24, 48, 72]),  # a clock that was set back takes nothing away
    ],
)
def test_a_plan_of_the_first_day_has_the_amounts_of_the_day_it_is_read_on(
    age_h: float, amounts: tuple[float, float, float], later: list[float]
) -> None:
    plan, to_come = at_age(FIRST_DAY, 20, age_h, TERM, PARAMETERS)
    assert (plan.supplement_ml, plan.supplement_most_ml, plan.supplement_ml_per_day) == amounts
    assert [one.from_h for one in to_come] == later


@pytest.mark.parametrize(
    "fields",
    [{"supplement_ml": 8.0}, {"supplement_most_ml": 20.0}, {"supplement_most_ml": None}],
)
def test_an_amount_that_somebody_chose_does_not_grow(fields: dict[str, float | None]) -> None:
    plan = msgspec.structs.replace(FIRST_DAY, **fields)
    assert at_age(plan, 20, 50, TERM, PARAMETERS) == (plan, ())


def test_a_day_without_a_number_of_feeds_keeps_its_sum() -> None:
    plan = msgspec.structs.replace(FIRST_DAY, supplement_feeds_count=None)
    grown, _ = at_age(plan, 20, 30, TERM, PARAMETERS)
    assert (grown.supplement_ml, grown.supplement_ml_per_day) == (10, 48)


def kept(day: float) -> Entry:
    return an_infants("plan", FIRST_DAY, day)


def test_no_change_on_the_third_day_is_no_change_of_the_protocol() -> None:
    """A plan of the first day that nothing speaks against goes on with the amounts of the third."""
    later = asked(BIRTH, kept(0.8), day=2.1, engine=False)
    assert given_ml_per_day(later) == 200
    found = propose(later).plan
    assert (found.move, found.supplement_ml, found.supplement_most_ml) == ("hold", 25, 30)


@pytest.mark.parametrize(
    ("proposed_ml", "agreed_h", "is_grown"),
    [(48.0, 24.3, True), (48.0, 25.9, True), (48.0, 26.1, False), (80.0, 24.3, False), (None, 24.3, False)],
)  # fmt: skip
def test_a_plan_that_was_proposed_on_the_day_before_grows_all_the_same(
    proposed_ml: float | None, agreed_h: float, is_grown: bool
) -> None:
    """Proposed before 24 hours of age and saved after: nobody chose the amount of the first day for the fourth."""
    plan = msgspec.structs.replace(FIRST_DAY, proposed_ml_per_day=proposed_ml)
    grown, _ = at_age(plan, agreed_h, 80, TERM, PARAMETERS)
    assert grown.supplement_ml == (45 if is_grown else 6)


SECOND = msgspec.structs.replace(
    FIRST_DAY, supplement_ml=45, supplement_most_ml=60, supplement_ml_per_day=300
)


def test_the_days_of_a_plan_that_grows_are_changes_of_the_supplement() -> None:
    case = asked(BIRTH, kept(0.8), an_infants("plan", SECOND, 5), day=6, engine=False)
    changes = [(one.age_d, one.by_ml_per_day) for one in _changes(case, BORN_AT)]
    assert changes == [(pytest.approx(0.8), 48), (1, 32), (2, 120), (3, 160), (5, -60)]


def test_what_was_given_before_it_ended_is_what_the_plan_had_come_to() -> None:
    ended = an_infants("plan", Plan(move="settle", supplement_ml_per_day=0), 6)
    case = asked(BIRTH, kept(0.8), ended, day=7, engine=False)
    assert _before_it_ended(case) == 360


def test_what_was_planned_is_said_with_what_it_has_come_to() -> None:
    for day, says in ((0.9, "48 mL"), (3.5, "48 mL, now 360 mL")):
        since = since_plan(asked(BIRTH, kept(0.8), day=day, engine=False))
        assert since is not None
        assert in_sentences([since.rows[1].planned]) == says


@pytest.mark.parametrize(
    ("ml", "rounded"), [(0.2, 1), (5, 5), (5.1, 6), (9.7, 10), (10.1, 15), (30, 30), (31, 35)]
)
def test_an_amount_is_rounded_up_to_what_a_family_can_measure(ml: float, rounded: float) -> None:
    assert rounded_up(ml, PARAMETERS) == rounded


def test_binary_dust_is_no_reason_to_round_up() -> None:
    assert rounded_up(0.1 + 0.2 + 29.7 + 1e-12, PARAMETERS) == 30


BOTTLES = Plan(
    move="first",
    at_breast="not now",
    supplement_ml=20,
    supplement_feeds_count=8,
    supplement_ml_per_day=160,
    proposed_ml_per_day=160,
)
"""All it drinks on the second day, more than the protocol of that day."""


@pytest.mark.parametrize(
    ("age_h", "ml", "later"), [(40, 20, [48, 72]), (50, 25, [72]), (80, 45, [])]
)
def test_what_was_taken_by_bottle_on_the_second_day_is_not_the_amount_of_the_fourth(
    age_h: float, ml: float, later: list[float]
) -> None:
    grown, to_come = at_age(BOTTLES, 40, age_h, TERM, PARAMETERS)
    assert (grown.supplement_ml, grown.supplement_ml_per_day) == (ml, ml * 8)
    assert [one.from_h for one in to_come] == later


@pytest.mark.parametrize(
    ("fields", "gestation_days"),
    [
        ({}, 31 * 7),  # amounts are the unit's
        ({"at_breast": "every feed"}, TERM),
        ({"proposed_ml_per_day": 80.0}, TERM),
        ({"supplement_ml": 8.0}, TERM),
    ],
)
def test_what_is_no_amount_of_all_it_takes_by_bottle_does_not_grow(
    fields: dict[str, object], gestation_days: int
) -> None:
    plan = msgspec.structs.replace(BOTTLES, **fields)
    assert at_age(plan, 40, 80, gestation_days, PARAMETERS) == (plan, ())
