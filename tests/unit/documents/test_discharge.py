"""The summary at the end of care: what is not settled first, growth, how fed, who follows; nothing invented."""

from __future__ import annotations

from datetime import timedelta
from uuid import NAMESPACE_URL, uuid5

import msgspec
import pytest

from paper_source import (
    NOW,
    SIZES,
    VISIT,
    folder,
    folder_of_record,
    fonts_home,
    records,
    renamed,
    visited,
)
from pdf_reader import Seen, see
from suffice.clinical.entry import (
    Basis,
    Contact,
    Entry,
    Feed,
    Handover,
    PaperGiven,
    Plan,
    ProblemStatus,
    Setting,
)
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import pdf_of

NB = "\N{NO-BREAK SPACE}"
KEY = "twin-trouble"


def summary(made: Folder) -> Seen:
    paper = made.paper(Offer(kind="discharge", whose=None))
    seen = see(pdf_of(paper, fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    return seen


def over(record, **more):
    """The same record with a last contact that ends care."""
    end = Contact(setting=Setting.HOME, discharged=True)
    entry = Entry(
        id=uuid5(NAMESPACE_URL, "end of care"),
        fact=end,
        basis=Basis.OBSERVED,
        true_at=NOW - timedelta(minutes=1),
        entered_at=NOW - timedelta(minutes=1),
        entered_by="consultant",
    )
    return msgspec.structs.replace(record, entries=(*record.entries, entry))


@pytest.mark.parametrize("size", SIZES)
def test_what_is_not_settled_stands_before_everything_else(size) -> None:
    seen = summary(folder(KEY, size=size))
    heads = seen.of("H1", "H2")
    assert heads[:4] == [
        "Discharge summary: Marguerite Okoro-Santos",
        "Not settled",
        "Anselm",
        "Perpetua",
    ]
    first = seen.of("LBody")[0]
    assert first.startswith("Perpetua: At 12")


def told(record, *flags: str | None):
    """The same record after its second infant was handed over to a physician, whole or flag by flag."""
    entries = tuple(
        Entry(
            id=uuid5(NAMESPACE_URL, f"handover of {flag}"),
            fact=Handover(to="physician", name="Dr Ferreira", how="phone", flag=flag),
            basis=Basis.OBSERVED,
            true_at=NOW - timedelta(minutes=30 - number),
            entered_at=NOW - timedelta(minutes=30 - number),
            entered_by="consultant",
            infant_id=record.infants[1].id,
        )
        for number, flag in enumerate(flags)
    )
    return msgspec.structs.replace(record, entries=(*record.entries, *entries))


def open_lines(record) -> list[str]:
    """What is not settled of the second infant."""
    seen = summary(folder_of_record(record))
    return [one for one in seen.of("LBody") if one.startswith("Perpetua")]


def test_one_handover_of_all_that_is_flagged_is_said_once_with_its_earliest_answer() -> None:
    lines = open_lines(told(records()[KEY], None))
    assert len(lines) > 5
    assert sum("Handed over" in one for one in lines) == 1
    assert lines[-2] == (
        f"Perpetua, all of the above. Handed over to Dr Ferreira (physician) Sat 28{NB}Nov, 09:30,"
        f" answer by Sat 28{NB}Nov, 13:30."
    )


def test_a_handover_of_one_flag_stands_with_that_flag_alone() -> None:
    before = open_lines(records()[KEY])
    lines = open_lines(told(records()[KEY], "loss-at-limit"))
    assert len(lines) == len(before)
    handed = [one for one in lines if "Handed over" in one]
    assert len(handed) == 1
    assert handed[0].startswith(f"Perpetua: Lost 10.2{NB}%")


def test_a_family_in_which_nothing_is_flagged_has_no_such_box() -> None:
    seen = summary(folder_of_record(over(records()["thriving"])))
    assert "Not settled" not in seen.text
    assert f"Discharged from care Sat 28{NB}Nov 2026, 09:59." in seen.text


def test_it_says_when_the_family_is_still_in_care() -> None:
    assert (
        "Not discharged: this was written while the family is in care." in summary(folder(KEY)).text
    )


def test_growth_has_its_numbers_and_times() -> None:
    rows = summary(folder(KEY)).of("TR")
    assert f"Birth weight2760{NB}gSun 15{NB}Nov 2026, 10:00" in rows
    assert f"Lowest weight10.2{NB}% below birth weightAt 12{NB}days" in rows
    assert f"Birth weight regainedAt or above it againAt 10{NB}days" in rows
    assert sum("regained" in row for row in rows) == 1  # the twin has not regained hers


def test_what_was_not_recorded_is_not_said_to_be_none() -> None:
    items = summary(folder(KEY)).of("LBody")
    assert "How the infant is fed was not recorded in the last week." in items
    assert (
        f"Fed in the last 7{NB}days, as recorded: expressed milk (last Sat 28{NB}Nov, 01:55)."
        in items
    )


def test_milk_plan_problems_and_papers_are_listed() -> None:
    infant = records()[KEY].infants[-1].id
    record = visited(
        records()[KEY],
        (Plan(move="first", feeds_count=8, goal="only the breast"), infant),
        (Feed(milk="formula", volume_ml=30), infant),
        (PaperGiven(paper="sheet", title="Bring your baby deep onto the breast"), None),
    )
    seen = summary(folder_of_record(record, visit=VISIT))
    items = seen.of("LBody")
    assert any("formula (last Sat" in one for one in items)
    assert any(one.startswith("Plan: ") and "at least 8" in one for one in items)
    assert any(one.startswith("Shallow latch: open, ") for one in items)
    assert "Papers given: “Bring your baby deep onto the breast”." in items
    assert "Goal of the family: “only the breast”." in seen.text


def test_numbers_to_call_are_the_clinics_or_asked_for() -> None:
    assert "ask the clinic to fill in: ______" in summary(folder(KEY)).text
    phones = {
        "phone_day": "555-0100",
        "phone_night": "555-0199",
        "emergency_number": "555-0112",
        "crisis_number": "555-0177",
    }
    said = summary(folder(KEY, **phones)).text
    assert "fill in" not in said
    assert "555-0112" in said


@pytest.mark.parametrize(
    "name", ["Marguerite-Constance Okoro-Santos de la Fuente y Castellanos", "مريم"]
)
def test_a_long_name_and_one_from_the_right_are_whole(name) -> None:
    made = folder_of_record(renamed(records()[KEY], name))
    said = summary(made).of("H1")[0].replace("\u2068", "").replace("\u2069", "")
    assert said in {f"Discharge summary: {name}", f"Discharge summary: {name[::-1]}"}


def test_in_spanish_it_has_the_same_structure() -> None:
    english, spanish = summary(folder(KEY)), summary(folder(KEY, language="es"))
    assert len(english.of("H1", "H2", "H3")) == len(spanish.of("H1", "H2", "H3"))
    assert len(english.of("TR")) == len(spanish.of("TR"))
    assert len(english.of("LBody")) == len(spanish.of("LBody"))


@pytest.mark.parametrize(("last", "is_named"), [("open", True), ("not so", False)])
def test_the_last_decision_on_a_problem_is_told(last, is_named):
    infant = records()[KEY].infants[-1].id
    decided = (ProblemStatus(problem="shallow_latch", status=last, contact_id=VISIT), infant)
    seen = summary(folder_of_record(visited(records()[KEY], decided)))
    assert ("Shallow latch: " in seen.text) is is_named
