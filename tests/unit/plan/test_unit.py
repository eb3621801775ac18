"""The plan of an infant that a unit feeds."""

from __future__ import annotations

import pytest

from people import an_entry
from plan_case import BIRTH, INFANT, WELL, a_weight, an_infants, asked, counts, proposed
from suffice.clinical.entry import (
    Birth,
    Contact,
    ContactStart,
    Entry,
    Feed,
    ParentDay,
    Plan,
    Setting,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of
from suffice.plan.parameters import plan_parameters
from suffice.plan.schedule_asked import case_of
from suffice.plan.unit import is_fed_by_unit, is_on_unit

AT_30_WEEKS = an_entry(
    "birth", Birth(zone="UTC", gestation_days=210, birth_weight_g=1350.0), infant=INFANT
)
ON_A_UNIT = an_entry("day", ParentDay(is_on_unit=True), infant=None, at_h=24)
IN_A_UNIT = an_entry("c", ContactStart(place="neonatal unit"), infant=None, at_h=20)
AT_HOME = an_entry("h", Contact(setting=Setting.HOME), infant=None, at_h=30)
BY_PHONE = an_entry("t", ContactStart(place="phone"), infant=None, at_h=30)
HER_DAY = an_entry("d", ParentDay(sleep_h=5), infant=None, at_h=30)
AWAY = an_infants("p", Plan(move="first", at_breast="not now"), 1)


@pytest.mark.parametrize(
    ("entries", "day", "is_by_unit"),
    [
        ((AT_30_WEEKS, a_weight(1300, 1.7)), 2, True),
        ((AT_30_WEEKS, a_weight(1300, 1.7)), 30, False),
        ((BIRTH, ON_A_UNIT, AWAY), 2, True),
        ((BIRTH, AWAY), 2, False),
        ((BIRTH, IN_A_UNIT, AWAY), 2, True),
        ((BIRTH, ON_A_UNIT, an_infants("f", Feed(milk="breast"), 1.8)), 2, False),
        ((*WELL, *counts(21)), 21.5, False),
    ],
)
def test_who_is_fed_by_a_unit(entries: tuple[Entry, ...], day: float, is_by_unit: bool) -> None:
    """Nobody at home is told how often to feed an infant whose feeds are ordered; one at the breast keeps its plan."""
    found = asked(*entries, day=day, engine=False)
    assert is_fed_by_unit(found, plan_parameters(load())) is is_by_unit
    made = proposed(*entries, day=day)
    assert (made.plan.feeds_count is None) is is_by_unit
    line = " ".join(text_of(one, Policy()) for one in made.line("feeds").says)
    assert ("ordered there" in line) is is_by_unit
    if is_by_unit:
        assert made.plan.gap_day_h is made.plan.gap_night_h is None
        assert made.plan.supplement_ml is made.plan.supplement_ml_per_day is None
        assert made.plan.milk is made.plan.method is None
        much = " ".join(text_of(one, Policy()) for one in made.line("supplement").says)
        assert much == "The unit feeds it: how much is ordered there."
        assert "milk" not in {one.part for one in made.lines}


def test_its_day_has_no_feeds_of_the_parent() -> None:
    entries = (AT_30_WEEKS, a_weight(1300, 1.7))
    found = asked(*entries, day=2, engine=False)
    case = case_of(found, proposed(*entries, day=2).plan, [INFANT.id])
    assert case.feeds_count == case.milk_feeds_count == 0


@pytest.mark.parametrize(
    ("entries", "is_there"),
    [
        ((), False),
        ((IN_A_UNIT,), True),
        ((IN_A_UNIT, BY_PHONE), True),
        ((IN_A_UNIT, HER_DAY), True),
        ((IN_A_UNIT, AT_HOME), False),
        ((ON_A_UNIT,), True),
        ((ON_A_UNIT, BY_PHONE), True),
        ((ON_A_UNIT, HER_DAY), False),
        ((ON_A_UNIT, AT_HOME), False),
    ],
)
def test_whether_it_is_on_a_unit(entries: tuple[Entry, ...], is_there: bool) -> None:
    """A contact in a neonatal unit was not looked at: the family was told '45 mL by bottle every 3 h'."""
    assert is_on_unit(entries) is is_there
