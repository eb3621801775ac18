"""The day on the clock on a family's page: one page still, the day in words as well."""

from __future__ import annotations

import msgspec
import pytest

from day_cases import PARAMETERS, PARTNER
from paper_source import fonts_home
from pdf_reader import see
from suffice.documents.day_clock import beside_the_clock, clock_of
from suffice.documents.page import Dial, Heading, Run, page_count, pdf_of
from suffice.knowledge.phones import PHONES
from suffice.plan.schedule import scheduled
from unit.documents.test_family_papers import PLAN, planned

DAY = msgspec.structs.replace(PLAN, clock=scheduled(PARTNER, PARAMETERS).acts)


def test_a_plan_without_a_day_has_no_dial() -> None:
    blocks = (Heading((Run("At each feed"),)),)
    assert tuple(beside_the_clock(planned().source, blocks)) == blocks
    assert clock_of(()) == ()


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("numbers", [{}, dict.fromkeys(PHONES, "")], ids=["numbers", "none"])
def test_the_dial_stands_on_the_familys_page_which_stays_one(
    language: str, numbers: dict[str, str]
) -> None:
    folder = planned(DAY, language=language, **numbers)
    (offer,) = [
        one
        for one in folder.offers()
        if one.kind == "plan" and one.whose == folder.record.infants[-1].id
    ]
    paper = folder.paper(offer)
    (dial,) = [one for one in paper.blocks if isinstance(one, Dial)]
    said = [cell[0].text for row in dial.table.rows for cell in (row[0], row[2]) if cell]
    assert len(said) >= 9
    assert [one for one in said if one in dial.alt] == said
    assert page_count(pdf_of(paper, fonts_home())) == 1


def test_no_more_sessions_are_asked_for_in_words_than_the_clock_has() -> None:
    """The eighth found no place in that day: the page does not say eight beside a clock with seven."""
    drawn = sum(one.what == "express" for one in DAY.clock)
    asked = msgspec.structs.replace(DAY, express_for="build", sessions_count=drawn + 1)
    folder = planned(asked)
    offers = {(one.kind, one.whose): one for one in folder.offers()}
    paper = folder.paper(offers["plan", folder.record.infants[-1].id])
    seen = see(pdf_of(paper, fonts_home()), language="en")
    text = seen.tags[0].text.replace("\N{NO-BREAK SPACE}", " ")
    assert f"Express {drawn} times in 24 hours." in text
    assert f"Express {drawn + 1} times" not in text
