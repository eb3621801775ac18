"""A plan and the papers that go with it for every vignette of this folder, against rules of their own.

A plan: never below the day's floor, never over the need and its margin without saying so, no supplement
where intake suffices, no instruction against another. Its day: read minute by minute. Its papers: each red
flag on them, one amount, one number of feeds, no feed while none may be given.
"""

from __future__ import annotations

import re
from datetime import timedelta
from functools import cache
from itertools import groupby

import msgspec
import pytest

from paper_source import fonts_home
from pdf_reader import see
from people import BORN_AT, an_id
from plan_case import INFANT, SLOW, WEIGHED, WELL
from plan_rules import CONTENT, Made, agreed_source, broken, made_at
from schedule_checker import faults
from spec.papers_of import Papers, broken_by, papers_of, text_in
from spec.test_problems import ROWS, named
from spec.test_triage import VIGNETTES
from spec.vignette import Vignette
from suffice.clinical.entry import Record
from suffice.documents.page import pdf_of
from suffice.documents.teaching_sheet import sheets_for, teaching_sheet
from suffice.plan.propose import propose
from suffice.plan.schedule import scheduled
from suffice.plan.schedule_asked import case_of
from suffice.plan.schedule_case import DayCase
from suffice.plan.schedule_parameters import schedule_parameters
from sweeps import each

CHAPTERS = {
    chapter: tuple(those)
    for chapter, those in groupby(
        sorted(VIGNETTES, key=lambda one: one.chapter), key=lambda one: one.chapter
    )
}
SAMPLE = VIGNETTES[::12]
PRINTED = SAMPLE[::20]
"""Whose papers are set as PDF and read back; all are read as text."""
BASES = (("well", WELL, 21.5), ("slow", (*SLOW, *WEIGHED), 15.5))
"""Infants in whom the problems of the tables are named."""


@cache
def papers(vignette: Vignette) -> Papers:
    return papers_of(vignette)


@cache
def broken_by_day(case: DayCase) -> tuple[str, ...]:
    """The rules that the day of a case breaks; many vignettes ask for the same day."""
    day = scheduled(case, schedule_parameters(CONTENT))
    if day.is_possible:
        return tuple(faults(day.acts, case))
    return () if all(map(str, day.conflicts)) else ("no day, and nobody says why",)


def day_of(one: Papers) -> DayCase:
    """What is to be fitted into the parent's day."""
    ids = [infant.infant_id for infant in one.made.assessed.infants]
    return case_of(one.made.asked, one.made.proposal.plan, ids)


@pytest.mark.parametrize("chapter", CHAPTERS)
def test_the_plan_the_day_and_the_papers_of_each_vignette_keep_every_rule(chapter: str) -> None:
    found = {}
    for one in map(papers_of, CHAPTERS[chapter][:: each(6)]):
        rules = [*broken(one.made), *broken_by_day(day_of(one)), *broken_by(one)]
        if rules:
            found[one.vignette.case] = rules
    assert found == {}


@pytest.mark.parametrize("vignette", PRINTED, ids=lambda one: f"{one.chapter}: {one.case}")
def test_the_papers_of_a_sample_are_whole_as_pdf(vignette: Vignette) -> None:
    for offer, paper, text in papers(vignette).papers:
        seen = see(pdf_of(paper, fonts_home()), language="en")
        assert seen.faults == (), offer.kind
        assert paper.most_pages is None or seen.pages == 1, offer.kind
        assert text.split("\n", 1)[0] in "\n".join(tag.text for tag in seen.tags), offer.kind


@cache
def bases() -> dict[str, Made]:
    """Those infants, assessed once."""
    found = {}
    for name, entries, day in BASES:
        record = Record(family_id=an_id("family"), infants=(INFANT,), entries=entries)
        found[name] = made_at(record, BORN_AT + timedelta(days=day))[0]
    return found


@pytest.mark.parametrize("base", [name for name, *_ in BASES])
def test_the_plan_and_sheets_of_each_row_of_the_problems_keep_every_rule(base: str) -> None:
    """The problems of a row are named in an infant that thrives, those of the next in one that does not."""
    before, found, wanted = bases()[base], {}, 0
    for row in ROWS[[*bases()].index(base) :: len(BASES)]:
        problems = tuple(one.key for one in named(row.found).named)
        given = msgspec.structs.replace(before.asked, problems=frozenset(problems))
        made = Made(problems, before.assessed, given, propose(given))
        rules = broken(made)
        if rules:
            found[row.place] = rules
        source = agreed_source(made, made.proposal.plan)
        sheets = sheets_for(source, problems).first
        wanted += bool(sheets)
        for key in sheets:
            assert CONTENT.sheets[key].call.says.split()[0] in text_in(teaching_sheet(source, key))
    assert found == {}
    assert wanted > len(ROWS) / 8


# ---- the rules themselves --------------------------------------------------------------------


def one_that(says: str) -> Papers:
    """A vignette that asks for something."""
    return next(papers(one) for one in VIGNETTES if says in one.says)


def test_the_vignettes_hold_what_the_rules_are_about() -> None:
    """Rules that nothing touches would hold of themselves."""
    every = [papers(one) for one in SAMPLE]
    plans = [one.made.proposal.plan for one in every]
    assert sum(bool(one.supplement_ml_per_day) for one in plans) > 5
    assert sum(one.made.asked.suffices for one in every) > 10
    assert sum(one.made.asked.is_given_no_milk for one in every) >= 2
    assert len({day_of(one) for one in every}) > 5
    kinds = {offer.kind for one in every for offer, *_ in one.papers}
    assert kinds == {"letter", "plan", "days", "note", "discharge", "sheet"}


@pytest.mark.parametrize(
    ("kind", "old", "new", "says"),
    [
        ("plan", "Go to the hospital now", "Rest", "an emergency, and the plan begins with"),
        ("plan", "no milk until", "Breast first until", "no milk may be given, and the plan says"),
        ("discharge", "vomit", "smile", "a discharge without"),
        ("letter", "Emergency. ", "", "a letter that begins with"),
        ("letter", "ask the clinic to fill in: ______", "555-0100", "a number to call"),
        ("note", "Flagged", "{flagged}", "note: "),
    ],
)
def test_a_paper_that_breaks_a_rule_is_found(kind: str, old: str, new: str, says: str) -> None:
    one = one_that("emergency vomit-green")
    assert broken_by(one) == []
    spoilt = tuple(
        (offer, paper, re.sub(re.escape(old), new, text, flags=re.IGNORECASE))
        if offer.kind == kind
        else (offer, paper, text)
        for offer, paper, text in one.papers
    )
    assert any(says in each for each in broken_by(one._replace(papers=spoilt)))


@pytest.mark.parametrize(
    ("kind", "old", "new", "says"),
    [
        ("days", "8\N{NO-BREAK SPACE}feeds", "11\N{NO-BREAK SPACE}feeds", "feeds: "),
        ("days", "Good to know", "Most babies lose weight", "the days calm"),
        ("plan", "mL of milk", "mL of milk, or 7\N{NO-BREAK SPACE}mL", "the plan says"),
        ("plan", "least 5", "least 4", "wets of tomorrow"),
    ],
)
def test_two_papers_that_fight_are_found(kind: str, old: str, new: str, says: str) -> None:
    one = next(
        one
        for one in map(papers, SAMPLE)
        if "mL of milk" in one.of("plan", one.made.asked.infant.infant_id)
        and "At least 5" in one.of("days", one.made.asked.infant.infant_id)
        and "least 5" in one.of("plan", one.made.asked.infant.infant_id)
    )
    spoilt = tuple(
        (offer, paper, text.replace(old, new) if offer.kind == kind else text)
        for offer, paper, text in one.papers
    )
    assert any(says in each for each in broken_by(one._replace(papers=spoilt)))
