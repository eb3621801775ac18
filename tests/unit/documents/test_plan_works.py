"""How a family sees by tomorrow that its plan works, at every age at which there is a plan."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import msgspec
import pytest

from paper_source import NOW, SIZES, fonts_home
from planned import SOME, source_of
from spec.papers_of import text_in
from suffice.assess.results import Finding
from suffice.documents.frame import Source
from suffice.documents.page import page_count, pdf_of
from suffice.documents.plan_page import plan_page

FIVE_WEEKS_H = 35 * 24.0
AS_NOW = (
    "About as many wet diapers as this week, never fewer than 4 in 24 hours."
    " Fewer can mean too little milk: call us today."
)
AWAKE = "Your baby is wide awake for a while, and content after some feeds."


def read(source: Source) -> list[str]:
    """The page of the plan, a line for each thing that it says."""
    page = plan_page(source, source.assessment.infants[-1].infant_id)
    return text_in(page).replace("\N{NO-BREAK SPACE}", " ").split("\n")


def with_infant(source: Source, **fields: Any) -> Source:
    """The same with other facts of its infant."""
    infant = msgspec.structs.replace(source.assessment.infants[-1], **fields)
    assessed = msgspec.structs.replace(source.assessment, infants=(infant,))
    return msgspec.structs.replace(source, assessment=assessed)


def test_past_the_leaflets_its_own_days_the_least_and_the_scale_are_named() -> None:
    plan = msgspec.structs.replace(SOME, weigh_at=NOW + timedelta(days=7))
    lines = read(source_of(plan, age_h=FIVE_WEEKS_H))
    assert {AS_NOW, "You hear your baby swallow.", AWAKE} <= set(lines)
    weigh = next(one for one in lines if one.startswith("We weigh your baby"))
    assert weigh.endswith("More weight then shows best that the plan works.")
    assert not any("dirty* diapers" in one or "dirty diapers, " in one for one in lines)


@pytest.mark.parametrize(
    ("age_h", "is_older"),
    [(200.0, False), (26.9 * 24, False), (28 * 24.0, True), (200 * 24.0, True), (364 * 24.0, False)],
)  # fmt: skip
def test_the_norm_of_the_leaflets_gives_way_at_its_last_day(age_h: float, is_older: bool) -> None:
    lines = read(source_of(SOME, age_h=age_h))
    assert (AS_NOW in lines) is is_older
    assert any(one.startswith("At least 6 wet") for one in lines) is (not is_older and age_h < 700)


def test_every_age_of_four_weeks_to_a_year_says_what_is_seen_of_milk() -> None:
    for days in range(5, 364, 7):
        lines = read(source_of(SOME, age_h=days * 24.0 + 5))
        assert any("wet diapers" in one and "in 24 hours" in one for one in lines), days


def test_too_few_wets_are_no_measure_of_their_own() -> None:
    source = source_of(SOME, age_h=FIVE_WEEKS_H)
    few = Finding(
        code="few-wets-older", topic="output", level="physician", colour="red", messages=("few",)
    )
    lines = read(with_infant(source, findings=(few,)))
    assert AS_NOW not in lines
    assert any(
        one.startswith("More wet diapers than now, at least 4 in 24 hours.") for one in lines
    )


def test_a_baby_before_its_due_date_is_not_known_by_looking_content() -> None:
    source = source_of(SOME, age_h=FIVE_WEEKS_H)
    assert AWAKE in read(source)
    assert AWAKE not in read(with_infant(source, corrected_age_days=-3))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_it_stays_one_page(size: str, language: str) -> None:
    plan = msgspec.structs.replace(SOME, weigh_at=NOW + timedelta(days=7))
    source = source_of(plan, age_h=FIVE_WEEKS_H, language=language)
    source = msgspec.structs.replace(source, size=size)
    page = plan_page(source, source.assessment.infants[-1].infant_id)
    assert page_count(pdf_of(page, fonts_home())) == 1
