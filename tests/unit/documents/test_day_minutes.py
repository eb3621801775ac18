"""How long a day with the plan takes stands on the family's page and in the note, the same on both."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest

from paper_pages import CLOCK, PLAN
from paper_source import NOW, SIZES, VISIT, folder_of_record, fonts_home, records, visited
from pdf_reader import see
from planned import source_of
from suffice.clinical.entry import Plan, Sign
from suffice.documents.day_minutes import Minutes, family_minutes, minutes_of, noted_minutes
from suffice.documents.folder import Folder, Offer, PaperKind
from suffice.documents.note_plan import plan_lines
from suffice.documents.page import page_count, pdf_of
from suffice.documents.plan_page import plan_page
from suffice.knowledge.store import load

NB = "\N{NO-BREAK SPACE}"
KEY = "twin-trouble"


def read(made: Folder, kind: PaperKind) -> str:
    infant = made.record.infants[-1].id
    paper = made.paper(Offer(kind=kind, whose=None if kind == "note" else infant))
    return see(pdf_of(paper, fonts_home()), language="en").text.replace(NB, " ")


def with_plan(plan: Plan) -> Folder:
    record = records()[KEY]
    return folder_of_record(visited(record, (plan, record.infants[-1].id)), visit=VISIT)


def test_the_drawn_day_is_added_up_with_cleaning_and_without_sleep() -> None:
    """Seven feeds of 30 + 15 + 30 min and 30 min of cleaning; the helper gives one bottle of 30 min."""
    assert minutes_of(CLOCK, PLAN, load()) == Minutes(7 * 75 + 30, 30)


def test_without_a_day_the_counts_of_the_plan_are_added_up() -> None:
    bare = Plan(move="first", feeds_count=8, at_breast="every feed")
    assert minutes_of((), bare, load()) == Minutes(8 * 30, 0)
    assert minutes_of((), msgspec.structs.replace(bare, feeds_count=None), load()) is None


def test_family_page_note_and_letter_say_the_same_sessions_and_minutes() -> None:
    made = with_plan(PLAN)
    assert PLAN.sessions_count == 8
    page, note, letter = (read(made, kind) for kind in ("plan", "note", "letter"))
    assert "Express 7 times in 24 hours." in page
    assert "Sessions of expressing by the plan: 7 in 24 h." in letter
    assert "Agreed: 8 sessions; 7 find a place in the day that was drawn" in note
    assert "8 sessions in 24 h" not in note.replace("Agreed: 8 sessions", "")
    assert "Each day: about 9 h 15 min for you, 30 min for your helper" in page
    assert "takes the parent 9 h 15 min in 24 h, cleaning with it, and helpers 30 min." in note


def test_a_plan_of_which_nothing_gave_way_says_so_of_nothing() -> None:
    made = with_plan(msgspec.structs.replace(PLAN, sessions_count=7))
    assert "Agreed: 7 sessions" not in read(made, "note")


def test_a_note_without_a_day_says_how_it_reckoned() -> None:
    made = with_plan(msgspec.structs.replace(PLAN, clock=()))
    assert "By its counts the plan takes about" in read(made, "note")
    source = made.source
    assert list(plan_lines(source, (), lambda _one: "")) == []


def test_a_helper_is_named_only_where_one_helps() -> None:
    alone = family_minutes(Minutes(100, 0))
    assert "helper" not in alone.template
    assert "helper" in family_minutes(Minutes(100, 10)).template
    assert (
        noted_minutes(Minutes(60, 0), ()).template != noted_minutes(Minutes(60, 0), CLOCK).template
    )


def test_while_no_milk_may_be_given_the_page_counts_no_feeds() -> None:
    record = records()[KEY]
    infant = record.infants[-1].id
    vomit = Sign(sign="vomit_green", present=True)
    with_it = folder_of_record(visited(record, (PLAN, infant), (vomit, infant)), visit=VISIT)
    assert "Each day: about" in read(with_plan(PLAN), "plan")
    assert "Each day: about" not in read(with_it, "plan")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_page_stays_one(size: str, language: str) -> None:
    full = msgspec.structs.replace(
        PLAN, position="cradle", each_feed="Sing.\nRest.", weigh_at=NOW + timedelta(days=7)
    )
    for age_h in (60, 35 * 24.0):
        source = msgspec.structs.replace(source_of(full, age_h=age_h, language=language), size=size)
        page = plan_page(source, source.assessment.infants[-1].infant_id)
        assert page_count(pdf_of(page, fonts_home())) == 1
