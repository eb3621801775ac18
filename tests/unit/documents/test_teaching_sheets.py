"""Teaching sheets on paper: one page, easy to read, never against the plan, another sheet or a red flag."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import msgspec
import pytest

from paper_source import SIZES, VISIT, folder, folder_of_record, fonts_home, records, visited
from pdf_reader import Seen, see
from reading_level import level_of
from suffice.clinical.entry import AnyFact, Plan, ProblemStatus
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import pdf_of
from suffice.documents.teaching_sheet import sheets_for
from suffice.knowledge.store import load

NB = "\N{NO-BREAK SPACE}"
SHEETS = load().sheets
KEYS = tuple(SHEETS)
PHONES = {
    "phone_day": "555-0100",
    "phone_night": "555-0199",
    "emergency_number": "112",
    "crisis_number": "555-0177",
}
CALM = "thriving"


def read(made: Folder, key: str) -> Seen:
    """A sheet as its file is read; whole, on one page."""
    offer = Offer(kind="sheet", whose=None, sheet=key)
    seen = see(pdf_of(made.paper(offer), fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    assert seen.pages == 1
    return seen


def lines(seen: Seen) -> list[str]:
    return [tag.text for tag in seen.tags if tag.kind in {"H1", "H2", "P", "LBody"}]


def own(seen: Seen) -> list[str]:
    """The lines of the sheet itself, without the box on help, which is on all papers."""
    said = lines(seen)
    return said[
        : next(n for n, one in enumerate(said) if one.endswith(f": {PHONES['emergency_number']}"))
    ]


def entered(key: str, *facts: tuple[AnyFact, UUID | None], **policy: Any) -> Folder:
    made = visited(records()[key], *facts)
    return folder_of_record(made, visit=VISIT, **policy)


def first_infant(key: str) -> UUID:
    return records()[key].infants[0].id


GOLDEN = [
    "Ease full, tight breasts",
    "Try this first",
    "Feed now. If the breast is too hard, press the dark ring back with your fingertips first.",
    "At each feed",
    "Press softly for about a minute. Then feed at once.",
    "Do not press on a red or sore part.",
    f"Feed at least 8{NB}times in a day and a night. Skip none.",
    f"After the feed, put a cold cloth on for 10{NB}minutes.",
    "Keep the cold off the nipple. Keep the nipple dry and warm if it hurts.",
    "Press out a little by hand",
    f"Wash your hands. Put thumb and fingers about 3{NB}cm back from the nipple.",
    "Press back to your chest. Then press thumb and fingers together. Let go. Do it again.",
    "Do not slide on the skin or pull the nipple.",
    "Move your hand round the breast. Stop when it feels better.",
    "Do not try to empty the breast. That makes more milk.",
    "Be gentle",
    "Do not rub or knead. Do not use a tool that buzzes.",
    "Ask which pain medicine is safe for you.",
    "Full breasts are common when the milk comes in. It soon gets better.",
    "When to call us",
    "Call us today if your baby cannot latch, or if you are no better tomorrow. Call now if you have a fever.",
    (
        f"Facts checked on Sat 28{NB}Nov 2026: published advice,"
        " and common practice where there is no study."
    ),
    "Call now: 112",
    "Your baby is limp, blue or gray, fights for breath, has a fit, throws up green, or will not wake.",
    f"Your baby is colder than 35.5{NB}°C.",
    "You bleed a lot, faint, have a bad headache or chest pain, or cannot breathe well.",
    "You think of hurting yourself or your baby. Crisis line: 555-0177.",
    "Call us or a doctor now: 555-0100. At night: 555-0199.",
    (
        f"No wet diaper in a whole day. You have a fever of 38.0{NB}°C or more."
        f" Yellow skin: a test within 6{NB}hours."
    ),
    "See a doctor today",
    "Your baby is hard to wake for feeds. Blood in a diaper. A white or gray stool. A red, hot breast.",
    f"Your baby has a fever of 39.0{NB}°C or more, or any fever for 5{NB}days.",
    "Call us today: 555-0100. At night: 555-0199.",
    "Far fewer feeds than before, or feeds that never seem to end.",
    "Fewer wet or dirty diapers than before. Pink stains after day 3.",
    f"Your baby has any other fever of 38.0{NB}°C or more.",
]


@pytest.mark.parametrize("size", SIZES)
def test_a_sheet_word_by_word_on_both_sizes(size: str) -> None:
    assert lines(read(folder(CALM, size=size, **PHONES), "engorgement")) == GOLDEN  # type: ignore[arg-type]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("key", KEYS)
def test_a_sheet_is_one_page_and_is_read_at_the_age_of_twelve(key: str, language: str) -> None:
    """Grade 6 in English, 65 of Szigriszt-Pazos in Spanish, no sentence over 20 words; with a plan too."""
    plan = (Plan(move="first", supplement_ml=30), first_infant(CALM))
    for size in SIZES:
        seen = read(entered(CALM, plan, size=size, language=language, **PHONES), key)
    found = level_of(own(seen), language)
    assert found.words > 100
    assert found.longest <= 20
    assert "*" not in seen.text
    assert "{" not in seen.text
    if language == "es":
        first = "Antes que nada" if SHEETS[key].parent_only else "Pruebe esto primero"
        assert first in seen.text, "it is not in Spanish yet"
        assert found.perspicuity >= 65
    else:
        assert found.grade <= 6
    assert len(seen.of("H1")) == 1
    assert len(seen.of("H2")) >= 2 + 2 + 3


def test_a_sheet_holds_in_the_units_that_the_clinic_reads() -> None:
    said = lines(read(folder(CALM, temperature_unit="F", **PHONES), "storing_milk"))
    assert f"In the room, up to 77.0{NB}°F: use within 4{NB}hours." in said


def test_a_number_that_the_clinic_changed_stands_on_the_sheet() -> None:
    made = folder(CALM, **PHONES)
    content = made.source.content.with_overrides({"storage.fridge_d": 3})
    made = msgspec.structs.replace(
        made, source=msgspec.structs.replace(made.source, content=content)
    )
    assert any(f"use within 3{NB}days" in one for one in lines(read(made, "storing_milk")))


def test_for_whom_milk_at_home_is_stands_before_its_times() -> None:
    said = lines(read(folder(CALM, **PHONES), "storing_milk"))
    assert said[1].startswith("For milk at home and a well baby born on time.")


def test_what_a_plan_says_itself_a_sheet_leaves_out() -> None:
    plan = (Plan(move="first", gap_day_h=2, gap_night_h=4), first_infant(CALM))
    bare = read(folder(CALM, **PHONES), "waking")
    planned = read(entered(CALM, plan, **PHONES), "waking")
    assert f"Wake your baby at least every 3{NB}hours, day and night." in lines(bare)
    assert not any(
        "Wake your baby at least" in one or "Offer at least" in one for one in lines(planned)
    )
    first = "Your plan comes first: if it says something else, do what it says."
    assert first in lines(planned)
    assert first not in lines(bare)


# ---- which sheets a family is given ----------------------------------------------------------


def given(*problems: str, key: str = CALM) -> tuple[list[str], list[str]]:
    first, others = sheets_for(folder(key).source, frozenset(problems))
    return list(first), list(others)


def test_where_nothing_is_open_every_sheet_is_there_and_none_stands_first() -> None:
    first, others = given()
    assert first == []
    assert others == [key for key in KEYS if not SHEETS[key].only_with]


@pytest.mark.parametrize("problem", sorted(load().guide.problems))
def test_a_family_is_given_a_sheet_for_every_problem(problem: str) -> None:
    first, _ = given(problem)
    assert any(problem in SHEETS[key].goes_with for key in first)


def test_a_sheet_that_would_frighten_is_given_with_its_problem_alone() -> None:
    assert "blisters" not in {*given()[0], *given("engorgement")[0], *given("engorgement")[1]}
    assert given("breast_herpes")[0] == ["blisters"]
    assert not {"sore_nipples", "inflamed_breast"} & {*given("breast_herpes")[1]}


def test_what_goes_with_an_open_problem_stands_first_in_the_order_of_the_content() -> None:
    first, others = given("fast_flow", "nipple_pain", "shallow_latch")
    assert first == ["latch", "sore_nipples", "fast_flow"]
    assert "making_more" not in others


def test_a_red_breast_wins_over_making_more_milk() -> None:
    first, others = given("low_supply", "mastitis_inflammatory")
    assert first[0] == "inflamed_breast"
    assert "making_more" not in {*first, *others}
    assert "engorgement" not in {*first, *others}


@pytest.mark.parametrize("problem", sorted(load().guide.problems))
def test_no_two_sheets_that_fight_are_given_for_a_problem_beside_any_other(problem: str) -> None:
    sheets, source = load().sheets, folder(CALM).source
    for other in load().guide.problems:
        first, others = sheets_for(source, {problem, other})
        for key in first:
            apart = {*sheets[key].not_beside} & {*first, *others}
            assert not apart, (other, key)
            assert not {problem, other} & {*sheets[key].not_with}
        assert not {*first} & {*others}


def test_while_something_is_flagged_no_sheet_calms() -> None:
    assert "cluster_feeding" in given("cluster_feeding")[0]
    first, others = given("cluster_feeding", key="ward-loss")
    assert "cluster_feeding" not in {*first, *others}


def test_a_plan_without_the_breast_has_no_sheet_on_the_latch() -> None:
    infant = first_infant(CALM)
    for at_breast, offered in (("not now", False), ("some feeds", True)):
        made = entered(CALM, (Plan(move="first", at_breast=at_breast), infant))  # type: ignore[arg-type]
        assert ("latch" in {one.sheet for one in made.offers()}) is offered


def status(problem: str, how: str) -> ProblemStatus:
    return ProblemStatus(problem=problem, status=how, contact_id=VISIT)  # type: ignore[arg-type]


def test_what_the_consultant_decided_decides_which_sheets_stand_first() -> None:
    infant = first_infant(CALM)
    wanted = [one.sheet for one in entered(CALM).offers() if one.is_wanted]
    assert "latch" in wanted
    over = entered(CALM, (status("shallow_latch", "settled"), infant))
    more = entered(CALM, (status("pump_dependent", "better"), infant))
    assert "shallow_latch" not in over.open_problems()
    assert "storing_milk" not in wanted
    assert "storing_milk" in [one.sheet for one in more.offers() if one.is_wanted]


def test_sheets_stand_after_all_other_papers() -> None:
    kinds = [one.kind for one in entered(CALM).offers()]
    assert kinds[-1] == "sheet"
    assert kinds.index("sheet") + kinds.count("sheet") == len(kinds)
