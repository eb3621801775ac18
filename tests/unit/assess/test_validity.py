"""Until when time alone changes nothing of an assessment.

The hours are the content's (topics ranking, output, temperature: judgement), read from it here.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from people import BORN_AT, an_entry, an_id
from spec.vignette import BORN_AT as VIGNETTE_BORN_AT
from spec.vignette import record_of
from suffice.assess.assessment import assess
from suffice.assess.parameters import parameters_of
from suffice.assess.results import InfantAssessment
from suffice.assess.validity import valid_until
from suffice.clinical.entry import Feed, Infant, Stool, Temperature, Weight, Wet
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

CONTENT = load()
PARAMETERS = parameters_of(CONTENT)
INFANT = Infant(id=an_id("infant"), position=1)


def value(key: str) -> float:
    return CONTENT.constant(key).value


YOUNG_H, OLDER_H = value("ranking.holds_young_h"), value("ranking.holds_older_h")
OLD_ENOUGH_D = value("ranking.young_until_age_d")
STALE_H, KNOWN_H = value("output.stale_h"), value("follow_up.first_week_h")


def an_infant(age_h: float | None) -> InfantAssessment:
    return InfantAssessment(
        infant_id=INFANT.id,
        position=1,
        name="Ada",
        born_at=BORN_AT,
        zone="UTC",
        sex="female",
        age_h=age_h,
        age_days=None,
        gestation_days=None,
        corrected_age_days=None,
        birth_weight_g=None,
    )


def holds_h(*ages_h: float | None, entries=(), due_in_h: float | None = None) -> float:
    """Hours from the question, asked at the first infant's age, until something may change."""
    as_of = BORN_AT + timedelta(hours=ages_h[0] or 0.0)
    until = valid_until(
        [an_infant(age_h) for age_h in ages_h],
        entries,
        CONTENT,
        PARAMETERS,
        as_of=as_of,
        next_due_at=None if due_in_h is None else as_of + timedelta(hours=due_in_h),
    )
    return (until - as_of) / timedelta(hours=1)


def seen(fact, at_h: float):
    return an_entry(f"{fact} {at_h}", fact, infant=INFANT, at_h=at_h)


def test_an_answer_of_the_engine_holds_longer_for_an_older_infant() -> None:
    old_h = OLD_ENOUGH_D * 24
    assert YOUNG_H < OLDER_H
    assert holds_h(old_h - 24) == YOUNG_H
    assert holds_h(old_h) == OLDER_H
    assert holds_h(old_h, 48) == YOUNG_H, "the youngest decides"


def test_an_infant_of_unknown_age_counts_as_young() -> None:
    assert holds_h(None) == YOUNG_H


@pytest.mark.parametrize(("age_h", "left_h"), [(47.0, 1.0), (47.75, 0.25), (48.0, YOUNG_H)])
def test_a_new_day_of_life_ends_it(age_h: float, left_h: float) -> None:
    assert holds_h(age_h) == left_h


def test_due_is_overdue_from_the_first_minute_after() -> None:
    assert holds_h(48.0, due_in_h=2.0) == pytest.approx(2 + 1 / 60)
    assert holds_h(48.0, due_in_h=0.0) == pytest.approx(1 / 60)
    assert holds_h(48.0, due_in_h=-5.0) == YOUNG_H, "what was overdue before stays so"


@pytest.mark.parametrize("fact", [Wet(count=3, over_h=24.0), Stool(count=1)])
@pytest.mark.parametrize("stands_h", [STALE_H, KNOWN_H])
def test_a_count_stops_counting(fact, stands_h: float) -> None:
    at_h = 72.0
    assert holds_h(at_h, entries=[seen(fact, at_h - stands_h + 1.5)]) == 1.5
    assert holds_h(at_h, entries=[seen(fact, at_h - KNOWN_H)]) == YOUNG_H


def test_a_count_of_feeds_stops_counting() -> None:
    stands_h = value("feeding.stands_h")
    feed = seen(Feed(milk="breast"), 72.0 - stands_h + 1.5)
    assert holds_h(72.0, entries=[feed]) == 1.5


def test_a_temperature_ends_nothing_by_itself() -> None:
    fact = Temperature(temperature_c=38.2)
    assert holds_h(72.0, entries=[seen(fact, 60.0)]) == YOUNG_H


def test_a_weight_ends_nothing_by_itself() -> None:
    assert holds_h(72.0, entries=[seen(Weight(weight_g=3300.0), 72.0 - STALE_H + 1)]) == YOUNG_H


def test_the_soonest_of_all_counts() -> None:
    entries = [
        seen(Wet(), 72.0 - STALE_H + 3),
        seen(Wet(), 72.0 - STALE_H + 2),
    ]
    assert holds_h(72.0, entries=entries, due_in_h=1.0) == pytest.approx(1 + 1 / 60)
    assert holds_h(72.0, entries=entries) == 2.0


def test_a_fall_that_nobody_weighs_again_holds_until_a_day_has_passed():
    seen = "3 d: 3250 g; 10 d: 3600 g; 19 d: 3930 g; 20 d: 4000 g; 21 d: 3890 g"
    record = record_of("girl, 39+0, 3400 g, vaginal", seen)
    as_of = VIGNETTE_BORN_AT + timedelta(days=22)
    assessed = assess(record, as_of, CONTENT, Policy(zone="UTC"), engine=False)
    assert "fall-to-weigh-again" in {one.code for one in assessed.infants[0].findings}
    assert assessed.valid_until == as_of + timedelta(minutes=1)
    later = assess(record, assessed.valid_until, CONTENT, Policy(zone="UTC"), engine=False)
    assert "fall-after-rise" in {one.code for one in later.infants[0].findings}


def test_where_a_clinic_allows_some_slack_overdue_comes_after_it() -> None:
    """Of `follow_up.overdue_h`: 0 to 48 h."""
    slack = CONTENT.with_overrides({"follow_up.overdue_h": 24.0})
    due_at = BORN_AT + timedelta(hours=50)
    until = valid_until(
        [an_infant(73.0)],
        (),
        slack,
        parameters_of(slack),
        as_of=BORN_AT + timedelta(hours=73),
        next_due_at=due_at,
    )
    assert until <= due_at + timedelta(hours=24, minutes=1)
