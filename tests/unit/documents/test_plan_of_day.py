"""The family's page of a plan as the day goes on: amounts by age, feeds with and without milk, dates that have passed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import msgspec
import pytest

from paper_source import NOW
from planned import SOME, source_of
from spec.papers_of import text_in
from suffice.assess.results import WeighAgain
from suffice.clinical.entry import Contact, ContactStart, Plan, Setting
from suffice.clinical.entry.clock import Act
from suffice.documents.day_sheet import day_sheet, has_days
from suffice.documents.discharge import discharge
from suffice.documents.frame import Source, next_contact_at, plan_entry_of
from suffice.documents.letter import letter
from suffice.documents.plan_days import plan_of_day
from suffice.documents.plan_page import plan_page
from suffice.knowledge.store import load
from suffice.language.catalogue import translated

DAY_ONE = Plan(
    move="first",
    feeds_count=8,
    at_breast="every feed",
    supplement_ml=6,
    supplement_most_ml=10,
    supplement_feeds_count=8,
    supplement_ml_per_day=48,
    method="spoon",
    milk="own",
)
"""The protocol's amount of the first day, born at term."""


def read(source: Source) -> list[str]:
    """The page of the plan, a line for each thing that it says."""
    page = plan_page(source, source.assessment.infants[-1].infant_id)
    return text_in(page).replace("\N{NO-BREAK SPACE}", " ").split("\n")


# ---- milk at some of the feeds ---------------------------------------------------------------


def test_milk_at_some_of_the_feeds_is_not_asked_for_at_each() -> None:
    lines = read(source_of(SOME))
    assert "Breast first. Then 45 mL of milk, at 5 of 8 feeds. Then rest." in lines
    assert "At 5 of 8 feeds give 45 mL of milk by cup. Spread them over the day and night." in lines
    assert "Extra milk: 225 mL in 24 hours, at 5 feeds." in lines
    amounts = [one for one in lines if "45 mL" in one]
    assert all("5 of 8 feeds" in one for one in amounts)


@pytest.mark.parametrize(
    ("fields", "first"),
    [
        ({"method": "tube"}, "Breast, at 5 of 8 feeds with 45 mL of milk through the tube. Then rest."),
        ({"at_breast": "not now"}, "Give 45 mL of milk, at 5 of 8 feeds. Then rest."),
        ({"supplement_feeds_count": None}, "Breast first. Then 45 mL of milk. Then rest."),
        ({"feeds_count": None}, "Breast first. Then 45 mL of milk. Then rest."),
        ({"feeds_count": 5}, "Breast first. Then 45 mL of milk. Then rest."),
    ],
)  # fmt: skip
def test_the_first_line_says_at_how_many_feeds(fields: dict[str, Any], first: str) -> None:
    assert first in read(source_of(msgspec.structs.replace(SOME, **fields)))


def test_without_a_way_to_give_it_and_with_a_clock_the_clock_says_at_which_feeds() -> None:
    clock = (Act(starts_minutes=0, minutes=30, what="breast"),)
    lines = read(source_of(msgspec.structs.replace(SOME, method=None, clock=clock)))
    assert "At 5 of 8 feeds give 45 mL of milk. The clock shows at which." in lines


# ---- how milk is expressed -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("by", "says"),
    [
        (None, "by pump or hand"),
        ("hand", "by hand"),
        ("pump", "by pump"),
        ("hand and pump", "by hand and pump"),
    ],
)
def test_milk_is_expressed_as_the_plan_has_it(by: str | None, says: str) -> None:
    plan = Plan(move="first", sessions_count=8, session_minutes=15, session_by=by)  # type: ignore[arg-type]
    assert f"Express {says}: 15 min." in read(source_of(plan))
    both = msgspec.structs.replace(plan, session_sides="together")
    assert f"Express {says}: 15 min, both sides at the same time." in read(source_of(both))


# ---- the amounts of the first days -----------------------------------------------------------


def amounts(plan: Plan, age_h: float) -> tuple[float | None, float | None, float | None, list[tuple[float, float, float]]]:  # fmt: skip
    """What is given today (a feed, the most, a day) and later: hours from now, a feed, the most."""
    source = source_of(plan, age_h=age_h)
    infant = source.assessment.infants[-1]
    entry = plan_entry_of(source, infant.infant_id)
    assert entry is not None
    today, later = plan_of_day(source, entry, infant)
    return (
        today.supplement_ml,
        today.supplement_most_ml,
        today.supplement_ml_per_day,
        [((one.at - NOW).total_seconds() / 3600, one.ml, one.most_ml) for one in later],
    )


def test_the_protocols_amounts_grow_with_the_days_of_the_plan() -> None:
    assert amounts(DAY_ONE, 20) == (6, 10, 48, [(4, 10, 15), (28, 25, 30), (52, 45, 60)])


def test_read_a_day_later_it_says_the_amounts_of_that_day() -> None:
    """The entry is some minutes old: at 24 h and a minute the second day has begun, the plan is of the first."""
    assert amounts(DAY_ONE, 24 + 1 / 60) == (
        10, 15, 80, [(24 - 1 / 60, 25, 30), (48 - 1 / 60, 45, 60)]
    )  # fmt: skip


@pytest.mark.parametrize(
    ("fields", "age_h"),
    [
        ({"supplement_ml": 8.0}, 20),  # somebody chose another amount
        ({"supplement_most_ml": None}, 20),
        ({}, 40),  # not the amount of that age
        ({}, 200),  # the protocol says nothing of it
    ],
)
def test_an_amount_that_somebody_chose_stays_as_it_was_chosen(
    fields: dict[str, Any], age_h: float
) -> None:
    plan = msgspec.structs.replace(DAY_ONE, **fields)
    ml, most, day, later = amounts(plan, age_h)
    assert (ml, most, day) == (plan.supplement_ml, plan.supplement_most_ml, 48)
    assert later == []


def test_the_page_says_from_when_on_each_amount_is_given() -> None:
    lines = read(source_of(DAY_ONE, age_h=20))
    assert "Breast first. Then 6 mL of milk. Then rest." in lines
    assert "Give up to 10 mL if your baby asks for more." in lines
    assert "From Sat 28 Nov, 14:00: 10 mL at a feed, up to 15 mL." in lines
    assert "From Sun 29 Nov, 14:00: 25 mL at a feed, up to 30 mL." in lines


def test_what_is_no_plan_is_refused() -> None:
    source = source_of(SOME)
    other = next(one for one in source.entries if not isinstance(one.fact, Plan))
    with pytest.raises(TypeError, match="a plan is asked for"):
        plan_of_day(source, other, source.assessment.infants[-1])


# ---- dates -----------------------------------------------------------------------------------


def test_a_plan_that_has_ended_says_so_before_its_first_line() -> None:
    plan = msgspec.structs.replace(
        SOME, ends_at=NOW - timedelta(hours=1), weigh_at=NOW - timedelta(hours=2)
    )
    lines = read(source_of(plan, phone_day="555-0100"))
    ended = "This plan ended on Sat 28 Nov, 09:00. Call us for a new one: 555-0100."
    # Only what is red comes before it.
    assert (
        lines.index(ended)
        == 1
        < lines.index("Breast first. Then 45 mL of milk, at 5 of 8 feeds. Then rest.")
    )
    assert lines[0].startswith("Go to the hospital now with")
    assert not any("We weigh" in one or "This plan ends" in one for one in lines)


def test_a_plan_that_goes_on_says_when_it_ends() -> None:
    lines = read(source_of(msgspec.structs.replace(SOME, ends_at=NOW + timedelta(days=1))))
    assert not any(one.startswith("This plan ended") for one in lines)
    assert any("This plan ends on Sun 29 Nov, 10:00." in one for one in lines)


def dated(plan_days: float | None, contact_days: float | None, *, plan_last: bool) -> Source:
    """A plan and the end of a contact, each with its date of the next one; which of them was entered last."""
    made = source_of(SOME)
    infant = made.assessment.infants[-1].infant_id

    def at(days: float | None):
        return None if days is None else NOW + timedelta(days=days)

    plan = msgspec.structs.replace(SOME, contact_at=at(plan_days))
    end = Contact(setting=Setting.HOME, next_due_at=at(contact_days))
    kept = [one for one in made.entries if not isinstance(one.fact, Plan | Contact)]
    first = kept[-1]
    rows = [(end, None), (plan, infant)] if plan_last else [(plan, infant), (end, None)]
    more = [
        msgspec.structs.replace(
            first, fact=fact, infant_id=whose, entered_at=NOW - timedelta(minutes=5 - number)
        )
        for number, (fact, whose) in enumerate(rows)
    ]
    assessment = msgspec.structs.replace(made.assessment, next_due_at=at(contact_days))
    return msgspec.structs.replace(made, entries=(*kept, *more), assessment=assessment)


@pytest.mark.parametrize(
    ("plan_days", "contact_days", "plan_last", "days"),
    [
        (1, 2, False, 2),
        (1, 2, True, 1),
        (None, 2, True, 2),
        (1, None, False, 1),
        (None, None, True, None),
        # The contact in which the plan was made is not the next one.
        (-1, 2, True, 2),
        (-1, None, True, None),
    ],
)
def test_every_paper_has_the_date_that_was_put_down_last(
    plan_days: float | None, contact_days: float | None, plan_last: bool, days: float | None
) -> None:
    source = dated(plan_days, contact_days, plan_last=plan_last)
    due = next_contact_at(source)
    assert due == (None if days is None else NOW + timedelta(days=days))
    infant = source.assessment.infants[-1].infant_id
    papers = (plan_page(source, infant), letter(source, infant, None), discharge(source))
    for one in papers:
        said = text_in(one).replace("\N{NO-BREAK SPACE}", " ")
        wanted = {1: "Sun 29 Nov, 10:00", 2: "Mon 30 Nov, 10:00"}.get(days or 0)
        if wanted is not None:
            assert wanted in said, one.title


def test_the_summary_has_the_plan_as_the_familys_page_has_it() -> None:
    """The amount of the day, and as many sessions as the clock has room for."""
    clock = (Act(starts_minutes=0, minutes=30, what="express"),)
    plan = msgspec.structs.replace(DAY_ONE, clock=clock, sessions_count=3)
    source = source_of(plan, age_h=24.1)
    said = text_in(discharge(source)).replace("\N{NO-BREAK SPACE}", " ")
    assert "10 mL at each" in said
    assert "6 mL at each" not in said
    assert "1 session in 24 h" in said
    assert "Express once in 24 hours." in read(source)


@pytest.mark.parametrize(
    ("red", "plan_days", "says"),
    [
        (False, 2, "By the plan: weigh on Mon 30 Nov, 10:00."),
        (False, 9, "Weigh again on Fri."),
        (False, None, "Weigh again on Fri."),
        (False, -1, "Weigh again on Fri."),
        (True, 2, "Weigh again on Fri. By the plan: weigh on Mon 30 Nov, 10:00."),
    ],
)
def test_the_summary_names_no_later_day_to_weigh_than_the_plan(
    red: bool, plan_days: int | None, says: str
) -> None:
    at = None if plan_days is None else NOW + timedelta(days=plan_days)
    source = source_of(msgspec.structs.replace(SOME, weigh_at=at, proposed_sessions_count=8))
    *others, infant = source.assessment.infants
    again = WeighAgain(
        by="rule",
        on=(NOW + timedelta(days=6)).date(),
        advice=("Weigh again on Fri.",),
        reason="",
        briefly="",
    )
    findings = infant.findings if red else ()
    assert not red or any(one.level in {"emergency", "physician"} for one in findings)
    told = msgspec.structs.replace(infant, weigh_again=again, findings=findings)
    assessment = msgspec.structs.replace(source.assessment, infants=(*others, told))
    said = text_in(discharge(msgspec.structs.replace(source, assessment=assessment)))
    lines = said.replace("\N{NO-BREAK SPACE}", " ").split("\n")
    assert f"Ezra: {says}" in lines
    assert not any("proposed" in one for one in lines)


def test_a_discharged_family_has_no_next_contact() -> None:
    source = dated(1, 2, plan_last=True)
    ended = msgspec.structs.replace(source.assessment, discharged=True)
    assert next_contact_at(msgspec.structs.replace(source, assessment=ended)) is None


# ---- what shows that it works ----------------------------------------------------------------


def test_away_from_the_breast_nobody_listens_for_swallows_there() -> None:
    swallow = "You hear your baby swallow."
    assert swallow in read(source_of(SOME))
    assert swallow not in read(source_of(msgspec.structs.replace(SOME, at_breast="not now")))


def test_where_the_page_names_no_diapers_nobody_is_sent_to_them() -> None:
    """Beyond the norm of diapers: fewer than before, not fewer than on the page."""
    source = source_of(SOME, age_h=24 * 150)
    lines = read(source)
    assert not any("wet diapers in 24" in one.lower() for one in lines)
    assert any(one.startswith("Fewer wet or dirty diapers than before.") for one in lines)
    young = read(source_of(SOME, age_h=24 * 6))
    assert any(one.startswith("Fewer wet or dirty diapers than you read here.") for one in young)


# ---- what the first readers tripped over -----------------------------------------------------


@pytest.mark.parametrize(
    ("begins_days", "is_over"),
    [
        (None, False),
        # A contact on the day of the plan's date, hours before it, is that contact.
        (1.9, True),
        (2.5, True),
        # A call in between is not.
        (1.0, False),
    ],
)
def test_a_date_of_a_plan_on_which_the_family_was_seen_is_over(
    begins_days: float | None, is_over: bool
) -> None:
    source = dated(2, None, plan_last=False)
    rows = [one for one in source.entries if not isinstance(one.fact, Contact)]
    if begins_days is not None:
        at = NOW + timedelta(days=begins_days)
        started = msgspec.structs.replace(
            rows[-1], fact=ContactStart(place="home"), infant_id=None, true_at=at, entered_at=at
        )
        rows.append(started)
    later = msgspec.structs.replace(source.assessment, as_of=NOW + timedelta(days=3))
    source = msgspec.structs.replace(source, entries=tuple(rows), assessment=later)
    assert (next_contact_at(source) is None) is is_over
    said = text_in(letter(source, source.assessment.infants[-1].infant_id, None))
    assert ("was due" in said) is not is_over


def test_a_contact_that_ends_on_the_day_for_which_its_plan_is_dated_does_not_end_that_date() -> (
    None
):
    source = dated(0.1, None, plan_last=False)
    assert next_contact_at(source) == NOW + timedelta(days=0.1)


def test_a_plan_about_expressing_alone_sends_nobody_to_a_feed() -> None:
    """An infant that a unit feeds: no feeds, no diapers to count, no sheet of days, and no 'Then' that follows nothing."""
    plan = Plan(
        move="first", at_breast="not now", express_for="build", sessions_count=8, session_minutes=15
    )
    source = source_of(plan, age_h=200)
    lines = read(source)
    assert "Express your milk. Then rest." in lines
    said = "\n".join(lines)
    for word in ("Feed at least", "Start a feed", "It works if", "wet* diapers", "Fewer than 8"):
        assert word not in said
    assert not has_days(source, source.assessment.infants[-1].infant_id)
    fed = msgspec.structs.replace(plan, feeds_count=8)
    assert "Give milk as we agreed. Then express. Then rest." in read(source_of(fed, age_h=200))


def test_when_it_is_weighed_is_not_among_what_is_seen_by_tomorrow() -> None:
    """'It works if you see this by Thu 5: we weigh your baby on Sat 4 of the next month' made no sense."""
    plan = msgspec.structs.replace(SOME, weigh_at=NOW + timedelta(days=9))
    source = source_of(plan, age_h=200)
    page = plan_page(source, source.assessment.infants[-1].infant_id)
    weigh = [one for one in page.blocks if "We weigh your baby" in _text_of(one)]
    assert [type(one).__name__ for one in weigh] == ["Paragraph"]


def _text_of(block: object) -> str:
    return msgspec.json.encode(block).decode()


def test_one_diaper_is_no_diapers() -> None:
    lines = read(source_of(SOME, age_h=10))
    assert "At least 1 wet diaper in 24 hours." in lines
    assert "At least 1 dirty diaper, black or green." in lines


def test_ounces_stand_beside_the_millilitres_that_a_family_measures() -> None:
    lines = read(source_of(SOME, volume_unit="oz"))
    assert "Extra milk: 225 mL (7.6 fl oz) in 24 hours, at 5 feeds." in lines
    assert "Breast first. Then 45 mL (1.5 fl oz) of milk, at 5 of 8 feeds. Then rest." in lines


@pytest.mark.parametrize(
    ("feeds", "says"),
    [
        (8, "Fewer? Call us today:"),
        (10, "Fewer diapers, or fewer than 8 feeds? Call us today:"),
    ],
)
def test_the_sheet_of_days_has_the_family_call_below_one_number_of_feeds(
    feeds: int, says: str
) -> None:
    source = source_of(msgspec.structs.replace(SOME, feeds_count=feeds), age_h=200)
    said = text_in(day_sheet(source, source.assessment.infants[-1].infant_id))
    lines = said.replace("\N{NO-BREAK SPACE}", " ").split("\n")
    assert any(one.startswith(says) for one in lines)
    assert f"and {feeds} feeds in 24 hours." in " ".join(lines)
    assert any(one.startswith("Fewer than 8 feeds in 24 hours") for one in lines)


def test_a_comfort_step_that_was_proposed_is_said_in_the_language_of_the_paper() -> None:
    """A step is kept in the words of the page on which it was agreed on; the family may read another language."""
    cold = load().guide.instructions["cold_to_breast"].family
    plan = msgspec.structs.replace(SOME, each_feed=f"{cold}\r\nSing to her.")
    lines = read(source_of(plan))
    milk = next(one for one in lines if one.startswith("At 5 of 8 feeds give"))
    order = [lines.index(one) for one in ("Sing to her.", milk, cold)]
    assert order == sorted(order), "what comes after a feed stands behind its milk"
    spanish = translated(cold, "es")
    there = msgspec.structs.replace(SOME, each_feed=spanish)
    assert cold in read(source_of(there))
