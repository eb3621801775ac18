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
    assert (
        proposed(LATE_PRETERM, a_weight(2480, 1), a_weight(2380, 2.2), day=2.3).plan.weigh_at.hour
        == 12
    )  # type: ignore[union-attr]


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
    ("at_h", "hours", "is_at"), [(9, 48, 12), (15, 48, 12), (13, 10, 23), (3, 48, 12)]
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
