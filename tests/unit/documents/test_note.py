"""The consultation note: both sides, reasoning, what was not asked apart from 'no', each line with its entry."""

from __future__ import annotations

import io
from typing import Any

import pytest

from paper_source import SIZES, VISIT, folder, folder_of_record, fonts_home, records, visited
from pdf_reader import Seen, see
from suffice.clinical.entry import Observation, Plan, Sign, Telephone
from suffice.documents.folder import Folder, Offer
from suffice.documents.page import pdf_of, pictures_of
from suffice.knowledge.store import load

NB = "\N{NO-BREAK SPACE}"
KEY = "twin-trouble"
GUIDE = load().guide


def noted(*more: Any, **settings: Any) -> Seen:
    made = folder_of_record(visited(records()[KEY], *more), visit=VISIT, **settings)
    return read(made)


def read(made: Folder) -> Seen:
    paper = made.paper(Offer(kind="note", whose=None))
    seen = see(pdf_of(paper, fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    return seen


def section(seen: Seen, heading: str) -> list[str]:
    """The texts of a section, in order: paragraphs, items, rows, sub-headings."""
    kinds = ("H1", "H2", "H3", "P", "LBody", "TR")
    tags = [tag for tag in seen.tags if tag.kind in kinds]
    start = next(n for n, tag in enumerate(tags) if tag.text == heading)
    texts = []
    for tag in tags[start + 1 :]:
        if tag.kind in {"H1", "H2"}:
            break
        texts.append(tag.text)
    return texts


@pytest.mark.parametrize("size", SIZES)
def test_who_where_how_long_and_with_what_consent(size: str) -> None:
    seen = noted(size=size)
    assert seen.of("H1") == ["Consultation note about Marguerite Okoro-Santos"]
    assert section(seen, "Consultation note about Marguerite Okoro-Santos") == [
        (
            "Home, with Marguerite Okoro-Santos, Anselm, Perpetua."
            f" From Sat 28{NB}Nov, 08:50 to Sat 28{NB}Nov, 09:40: 50{NB}min. By Mara Lindgren."
        ),
        "Reason: “sore nipples”",
        "Goal: “only the breast”",
        "Consent: assessing and care, agreed, said by mother [1].",
    ]


def test_findings_stand_by_side_and_a_side_that_nobody_asked_says_so() -> None:
    rows = section(noted(), "Seen and asked")
    assert "PerpetuaOpening of the mouth on the breastShort of itWide3, 4" in rows
    assert "PerpetuaChin touches the breastNoNot asked5" in rows


def test_what_was_not_asked_stands_apart_from_no() -> None:
    seen = noted()
    lines = section(seen, "Not asked")
    assert lines[0] == "What is listed here was not asked; it was not answered with no."
    latch = next(line for line in lines if line.startswith("Latch: "))
    assert "corners of the lips touch each other" in latch
    assert "chin touches the breast" not in latch  # answered with no
    assert any(line.startswith("Nothing was asked of: ") for line in lines)


def test_what_one_twin_must_not_have_takes_no_step_from_the_other() -> None:
    """The sign of one infant holds its milk back; the other's steps stay, and each says whose it is."""
    record = records()[KEY]
    grunts = (Sign(sign="grunting", present=True), record.infants[0].id)
    before, after = (section(noted(*more), "Plan") for more in ((), (grunts,)))
    held = [line for line in after if "no milk until the infant has been seen" in line]
    assert held == [f"Anselm: {GUIDE.instructions['no_milk_until_seen'].do}"]
    shared = GUIDE.instructions["watch_feed"].do
    assert shared in before
    assert f"Perpetua: {shared}" in after


def test_two_answers_that_differ_are_both_shown() -> None:
    infant = records()[KEY].infants[-1].id
    again = Observation(what="chin", answer="yes", side="left", contact_id=VISIT)
    rows = section(noted((again, infant)), "Seen and asked")
    assert any("No, yes (answers differ)" in row for row in rows)


def test_problems_come_with_their_reasons_and_her_decision() -> None:
    lines = section(noted(), "Problems and reasoning")
    head = lines.index("Perpetua: shallow latch (left), well supported")
    assert "Supported by: opening of the mouth on the breast, left: short of it" in lines[head + 1]
    assert "Decided: shallow latch, open [" in lines[head + 1]


def test_flags_come_with_the_entries_that_they_rest_on() -> None:
    lines = section(noted(), "Flagged")
    assert lines
    assert all(line.endswith("]") for line in lines if "Lost" in line)


def test_a_plan_of_the_contact_is_in_it() -> None:
    infant = records()[KEY].infants[-1].id
    plan = Plan(move="first", feeds_count=8, supplement_ml_per_day=240, supplement_feeds_count=8)
    lines = section(noted((plan, infant)), "Plan")
    assert "first plan, at least 8" in lines[0]
    assert f"240{NB}mL" in lines[0]
    assert section(noted(), "Plan")[0] == "No plan was entered in this contact."


def test_who_was_told_when_and_what_was_asked() -> None:
    rows = section(noted(), "Handed over, and who answered")
    assert rows[1].startswith(f"Sat 28{NB}Nov, 09:35PerpetuaHandover")
    assert "Dr Ferreira" in rows[1]
    assert "sodium today" in rows[1]


def test_codes_are_offered_with_their_rules_on_the_right_record() -> None:
    rows = section(noted(), "Codes offered (ICD-10-CM)")
    rule = f"(before day 28{NB}after birth)"
    assert (
        f"PerpetuaP92.5Shallow latch, feeding of an infant born before 39{NB}weeks {rule}" in rows
    )
    assert all(row.startswith("Marguerite") for row in rows[1:-1] if "O92" in row)
    assert all(row.startswith(("Perpetua", "Anselm")) for row in rows[1:-1] if "P92" in row)


def test_every_number_in_brackets_is_an_entry_of_the_last_table() -> None:
    seen = noted()
    rows = section(seen, "Entries")[1:]
    known = {str(one.id): one for one in visited(records()[KEY]).entries}
    assert [int(row[: len(str(n))]) for n, row in enumerate(rows, 1)] == [*range(1, len(rows) + 1)]
    for number, row in enumerate(rows, start=1):
        key = row[len(str(number)) :][:36]
        assert key in known
        assert "Mara Lindgren" in row


def test_it_says_that_it_is_not_signed() -> None:
    assert "Not signed: what is printed here can still change with the record." in noted().of("P")


def test_in_spanish_it_has_the_same_structure() -> None:
    english, spanish = noted(), noted(language="es")
    heads = [len(one.of("H1", "H2", "H3")) for one in (english, spanish)]
    assert heads[0] == heads[1]
    assert len(english.of("TR")) == len(spanish.of("TR"))


def test_without_a_contact_no_note_is_offered() -> None:
    assert "note" not in [one.kind for one in folder(KEY).offers()]
    made = folder_of_record(visited(records()[KEY]), visit=VISIT)
    assert [one.kind for one in made.offers()].count("note") == 1


def test_no_word_of_a_table_stands_past_the_edge_of_the_text() -> None:
    """The text is 180 mm wide on both sheets, from 15 mm on A4; a head that its column has no room for stands out."""
    from PIL import Image  # noqa: PLC0415  # only here

    made = folder_of_record(visited(records()[KEY]), visit=VISIT)
    paper = made.paper(Offer(kind="note", whose=None))
    for page in pictures_of(paper, fonts_home(), ppi=100):
        picture = Image.open(io.BytesIO(page)).convert("L")
        edge = round(196 / 25.4 * 100)
        beyond = picture.crop((edge, 0, picture.width, picture.height))
        assert beyond.getextrema()[0] > 200


def test_the_number_of_the_family_is_in_no_note() -> None:
    """A note goes to others; it printed a number that was entered in the contact."""
    text = noted((Telephone(number="+34 555 010 177"), None)).text
    assert "555 010" not in text.replace(NB, " ")
