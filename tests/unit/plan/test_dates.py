"""When a plan weighs and sees the family again."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
import pytest

from plan_case import BIRTH, LATE_PRETERM, SLOW, WELL, a_weight, asked, counts, proposed
from suffice.assess.results import WeighAgain
from suffice.clinical.entry import Entry
from suffice.knowledge.policy import Policy
from suffice.language.text import text_of
from suffice.plan.dates import noon_within, weighing_words
from suffice.plan.propose import propose

H = timedelta(hours=1)


def hours_to_weigh(*entries: Entry, day: float, problems: tuple[str, ...] = ()) -> float:
    found = asked(*entries, day=day)
    at = proposed(*entries, day=day, problems=problems).plan.weigh_at
    assert at is not None
    return (at - found.as_of) / H


@pytest.mark.parametrize(
    ("entries", "day", "low", "high"),
    [
        ((BIRTH,), 0.05, 24, 72),  # the birth weight stands two days
        ((BIRTH, a_weight(3360, 2)), 2.1, 24, 72),
        ((), 20, 0, 0),  # nobody knows anything
        ((BIRTH,), 9, 0, 0),
        (SLOW, 15.2, 0, 48),  # short
        ((*WELL, *counts(21)), 21.5, 72, 24 * 15),
    ],
)
def test_there_is_always_a_day_to_weigh(
    entries: tuple[Entry, ...], day: float, low: float, high: float
) -> None:
    assert low <= hours_to_weigh(*entries, day=day) <= high


def test_a_late_preterm_infant_that_loses_too_much_is_weighed_the_next_day() -> None:
    found = hours_to_weigh(LATE_PRETERM, a_weight(2480, 1), a_weight(2380, 2.2), day=2.3)
    assert 0 < found <= 36
    assert found <= 24


@pytest.mark.parametrize("problem", ["mastitis_bacterial", "engorgement", "breast_abscess"])
def test_a_red_or_hard_breast_is_seen_within_two_days(problem: str) -> None:
    calm = proposed(*WELL, *counts(21), day=21.5).plan.contact_at
    soon = proposed(*WELL, *counts(21), day=21.5, problems=(problem,)).plan.contact_at
    assert calm is not None
    assert soon is not None
    assert soon - asked(*WELL, day=21.5, engine=False).as_of <= 48 * H < calm - soon + 48 * H


def test_a_weight_that_is_due_now_is_no_next_contact() -> None:
    """Not weighed for nine days: weighed at this contact, and seen the day after."""
    found = proposed(BIRTH, a_weight(3300, 3), day=12).plan
    now = asked(BIRTH, a_weight(3300, 3), day=12, engine=False).as_of
    assert found.weigh_at is not None
    assert found.weigh_at <= now
    assert found.contact_at is not None
    assert 12 * H <= found.contact_at - now <= 36 * H


def test_one_day_is_said_where_the_weights_could_tell_only_later() -> None:
    case = asked(*SLOW, day=15.2, engine=False)
    at = case.as_of + 20 * H
    later = WeighAgain(
        by="rule",
        on=date(2026, 12, 31) if at.date() < date(2026, 12, 31) else at.date() + timedelta(days=9),
        advice=("Weigh again on another day.",),
        reason="",
        briefly="",
    )
    told = msgspec.structs.replace(
        case, infant=msgspec.structs.replace(case.infant, weigh_again=later)
    )
    said = [text_of(one, Policy()) for one in weighing_words(told, at)]
    assert len(said) == 2
    assert "another day" not in " ".join(said)
    same = msgspec.structs.replace(later, on=at.date())
    told = msgspec.structs.replace(
        case, infant=msgspec.structs.replace(case.infant, weigh_again=same)
    )
    assert "another day" in " ".join(text_of(one, Policy()) for one in weighing_words(told, at))


def test_without_a_day_what_the_weights_tell_is_said_or_the_next_contact() -> None:
    case = asked(*SLOW, day=15.2, engine=False)
    again = WeighAgain(by="rule", on=None, advice=("Weigh again soon.",), reason="", briefly="")
    for one, says in ((None, "At the next contact."), (again, "Weigh again soon.")):
        infant = msgspec.structs.replace(case.infant, weigh_again=one)
        told = weighing_words(msgspec.structs.replace(case, infant=infant), None)
        assert says in " ".join(text_of(each, Policy()) for each in told)


@pytest.mark.parametrize(
    ("at_h", "hours", "is_at"),
    [
        (9, 48, 12),
        (15, 48, 12),
        (3, 48, 12),
        (14, 24, 12),
        (13, 10, 18),  # no noon lies within: not at 23:00
        (10, 24, 10),  # the noon in two hours tells nothing yet
        (6, 24, 18),  # nor is anybody seen at six in the morning
        (20, 6, 2),  # nothing but the night is left
    ],
)
def test_a_date_is_noon_where_there_is_one(at_h: int, hours: float, is_at: int) -> None:
    local = datetime(2026, 3, 4, at_h, tzinfo=ZoneInfo("UTC"))
    found = noon_within(local, hours)
    assert local < found <= local + hours * H
    assert found.hour == is_at


def test_what_is_due_at_the_time_of_asking_is_said_to_be_now() -> None:
    def weigh_by(*entries: Entry, day: float) -> str:
        (line,) = [one for one in proposed(*entries, day=day).lines if one.part == "weigh"]
        return text_of(line.says[0], Policy())

    assert proposed(BIRTH, day=9).plan.weigh_at == asked(BIRTH, day=9).as_of
    assert weigh_by(BIRTH, day=9) == "Now."
    assert weigh_by(*WELL, *counts(21), day=21.5).startswith("By ")


def test_an_advice_that_names_no_day_says_nothing_of_another_contact() -> None:
    """'By Tue. No next contact is planned. Weigh again by Sun of next week' stood beside the date of the next contact."""
    case = asked(*SLOW, day=15.2, engine=False)
    at = case.as_of + 20 * H

    def said(*advice: str, briefly: str = "") -> str:
        again = WeighAgain(
            by="engine", on=None, advice=advice, reason="It is settled.", briefly=briefly
        )
        infant = msgspec.structs.replace(case.infant, weigh_again=again)
        told = weighing_words(msgspec.structs.replace(case, infant=infant), at)
        return " ".join(text_of(one, Policy()) for one in told[1:])

    assert said("Do not wait.", "No next contact is planned.") == "Do not wait. It is settled."
    assert said("Weigh again by Sun.") == "It is settled."
    doubt = "First correct the weight."
    assert said(doubt, briefly=doubt) == f"{doubt} It is settled."


def test_a_weight_that_is_asked_for_today_is_not_put_off_to_noon() -> None:
    """'By Wed 8 Apr, 12:00. Weigh again now, naked.' was said at four in the morning."""
    case = asked(*SLOW, day=15.2, engine=False)
    again = WeighAgain(
        by="engine", on=case.as_of.date(), advice=("Weigh again now.",), reason="", briefly=""
    )
    infant = msgspec.structs.replace(case.infant, weigh_again=again)
    early = case.as_of.replace(hour=4, minute=0)
    told = msgspec.structs.replace(case, infant=infant, as_of=early)
    assert propose(told).plan.weigh_at == early


@pytest.mark.parametrize(
    ("problem", "hours"),
    [
        ("engorgement", 24),
        ("mastitis_inflammatory", 24),
        ("nipple_infection", 24),
        ("flat_nipple", 48),
        ("nipple_pain", 84),
    ],
)
def test_it_is_seen_again_when_a_named_problem_says(problem: str, hours: float) -> None:
    """A red breast is looked at after 24 hours on the page of the problem, and by the plan."""
    case = asked(*WELL, day=21.5, engine=False)
    found = proposed(*WELL, *counts(21), day=21.5, problems=(problem,)).plan.contact_at
    assert found is not None
    assert 0 < (found - case.as_of) / H <= hours


def test_milk_that_comes_late_is_not_waited_for_without_a_weight() -> None:
    one = (BIRTH, a_weight(3200, 3.1))
    assert hours_to_weigh(*one, day=3.2) > 24
    assert hours_to_weigh(*one, day=3.2, problems=("delayed_onset",)) <= 24


def test_who_rises_is_not_weighed_every_day_though_a_problem_is_still_named() -> None:
    rising = (BIRTH, a_weight(3150, 3), a_weight(3190, 4), a_weight(3240, 5))
    problems = ("excess_weight_loss",)
    assert hours_to_weigh(*rising[:2], day=3.1, problems=problems) <= 24
    assert hours_to_weigh(*rising, day=5.1, problems=problems) == hours_to_weigh(*rising, day=5.1)


def test_the_next_step_is_decided_by_a_weight_and_not_by_an_earlier_visit() -> None:
    """The look at who comes off a supplement is the weight before the step, three days on at the least."""
    case = proposed(*WELL, *counts(21), day=21.5, problems=("weaning_off_supplement",))
    assert case.plan.contact_at == proposed(*WELL, *counts(21), day=21.5).plan.contact_at


def test_a_late_preterm_infant_that_is_topped_up_is_weighed_daily_until_it_rises() -> None:
    falling = (LATE_PRETERM, a_weight(2530, 1))
    problems = ("late_preterm_feeding",)
    assert hours_to_weigh(*falling, day=1.2, problems=problems) <= 24
    rising = (*falling, a_weight(2500, 2), a_weight(2530, 3), a_weight(2570, 4))
    assert 24 < hours_to_weigh(*rising, day=4.6, problems=problems) <= 48
