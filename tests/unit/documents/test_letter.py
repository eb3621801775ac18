"""The letter to a physician: the request first, facts with numbers and times, never a diagnosis, one page."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

import msgspec
import pytest

from paper_source import (
    CLINIC,
    NOW,
    SIZES,
    folder,
    folder_of_record,
    fonts_home,
    letters,
    records,
    renamed,
)
from pdf_reader import Seen, see
from spec.papers_of import papers_of, text_in
from spec.vignette import BORN_AT, Vignette
from suffice.assess.rules.red_flag import who_and_how_soon
from suffice.clinical.entry import Basis, Entry, Handover, Illness, Sign
from suffice.documents.folder import Folder, Offer
from suffice.documents.letter import whom
from suffice.documents.page import NOT_DRAWN, pdf_of
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import text_of

NB = "\N{NO-BREAK SPACE}"
PHONES = {"phone_day": "555-0100", "phone_night": "555-0199"}


def letter(made: Folder, whose: UUID | None) -> Seen:
    paper = made.paper(Offer(kind="letter", whose=whose))
    seen = see(pdf_of(paper, fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    assert seen.pages == 1
    return seen


def infant(made: Folder, place: int = 0) -> UUID:
    return made.source.assessment.infants[place].infant_id


def lines(seen: Seen) -> list[str]:
    return [t.text for t in seen.tags if t.kind in {"H1", "H2", "P", "TR", "LBody"}]


GOLDEN = [
    f"Please see Perpetua today, Sat 28{NB}Nov: loss with a further sign of too little milk.",
    "For: physician, the same day.",
    (
        f"Perpetua, 12{NB}days old, born Sun 15{NB}Nov, 10:06, at 37+2{NB}weeks, birth weight 2510{NB}g, caesarean."
        " Parent: Marguerite Okoro-Santos."
    ),
    f"Call back {CLINIC}: phone by day 555-0100; phone at night 555-0199. Ask for Mara Lindgren.",
    "WhatValueWhenHow it is known",
    f"Weight2255{NB}g, 10.2{NB}% below birth weightSat 28{NB}Nov, 05:18Measured, home scale 2",
    f"Gain−7{NB}g/day (−26{NB}g/day to 12{NB}g/day)Sat 28{NB}Nov, 05:18Calculated from weights",
    f"Wet diapers in 24{NB}h3 (at least 6{NB}expected)Sat 28{NB}Nov, 06:00Observed",
    f"Stools in 24{NB}h1 (at least 2{NB}expected)Sat 28{NB}Nov, 06:00Observed",
    "Not known: temperature.",
    "Findings",
    f"At 12{NB}days: 10.2{NB}% lost, 3{NB}wets: a physician the same day, sodium is checked; the consultant today.",
    f"At 12{NB}days: no rise seen, 4{NB}feeds, 10.2{NB}% lost, 3{NB}wets, 1{NB}stool: a physician the same day.",
    f"Lost 10.2{NB}% of birth weight at 12{NB}days (Sat 28{NB}Nov, 05:18): at or above 10.0{NB}%.",
    f"Losing 9{NB}g a day at 12{NB}days: 2310{NB}g to 2255{NB}g in 6{NB}days, now 10.2{NB}% below birth weight.",
    "Consistent with suspected dehydration, slow gain or excess weight loss; please assess.",
    "Done so far",
    f"65{NB}mL of milk given in 24{NB}h.",
    "Meanwhile",
    f"Weigh when seen, and again by Thu 3{NB}Dec.",
    f"We see the family next: Mon 30{NB}Nov, 02:00.",
    f"Reply to {CLINIC}, phone 555-0100",
    "Seen on, by",
    "Found",
    "Advised",
    "Next appointment, signature",
]


@pytest.mark.parametrize("size", SIZES)
def test_a_letter_word_by_word_on_both_sheets(size: str) -> None:
    made = folder("twin-trouble", size=size, **PHONES)  # type: ignore[arg-type]
    assert lines(letter(made, infant(made, 1))) == GOLDEN


@pytest.mark.parametrize(
    ("key", "starts"),
    [
        ("cold", "Emergency. Please see Amaru now: low temperature."),
        ("ward-loss", f"Please see Leif today, Sat 28{NB}Nov: loss at the limit."),
        ("no-stool", f"Please advise on Mei within a day, by Sun 29{NB}Nov: no stool in a day."),
        ("first-day", "For information: Ifeoma. Too early to tell"),
        # What a physician knows of already is a note: nothing is asked.
        ("known", "For information: Evander. "),
        ("one-weight", "Please look at Ren at the next visit: late first weight."),
    ],
)
def test_the_request_and_its_time_stand_in_the_first_line(key: str, starts: str) -> None:
    made = folder(key)
    assert lines(letter(made, infant(made)))[0].startswith(starts)


def test_who_was_told_and_what_was_asked_is_in_it() -> None:
    made = folder("handed-over")
    told = next(e.fact for e in made.record.entries if isinstance(e.fact, Handover))
    said = letter(made, infant(made)).text
    assert f"handed over to {told.name} (physician), asked: {told.asked}".rstrip(".") in said


def test_what_to_do_until_help_comes_is_in_it() -> None:
    record = records()["first-day"]
    sign = Entry(
        id=uuid4(),
        fact=Sign(sign="not_rousable", present=True),
        basis=Basis.OBSERVED,
        true_at=NOW - timedelta(hours=1),
        entered_at=NOW,
        entered_by="consultant",
        infant_id=record.infants[0].id,
    )
    made = folder_of_record(msgspec.structs.replace(record, entries=(*record.entries, sign)))
    seen = letter(made, infant(made))
    assert seen.of("H1")[0].startswith("Emergency. Please see Ifeoma now")
    assert any(line.startswith("Keep the infant warm, skin to skin") for line in lines(seen))


@pytest.mark.parametrize("kind", ["letter", "discharge"])
def test_what_a_finding_asks_of_the_consultant_is_not_asked_of_a_physician(kind: str) -> None:
    record = records()["formula"] if "formula" in records() else next(iter(records().values()))
    whose = record.infants[0].id
    ill = Entry(
        id=uuid4(),
        fact=Illness(what="jaundice under lamps"),
        basis=Basis.REPORTED,
        true_at=NOW - timedelta(hours=2),
        entered_at=NOW - timedelta(hours=2),
        entered_by="consultant",
        infant_id=whose,
    )
    made = folder_of_record(msgspec.structs.replace(record, entries=(*record.entries, ill)))
    (offer,) = [one for one in made.offers() if one.kind == kind and one.whose in {whose, None}][:1]
    said = see(pdf_of(made.paper(offer), fonts_home()), language="en").text
    assert "jaundice under lamps" in said
    assert "Choose the sign" not in said


def test_a_contact_that_is_overdue_is_not_said_to_be_none() -> None:
    made = folder("pump")
    assert f"The next contact was due Fri 27{NB}Nov, 14:00." in lines(letter(made, infant(made)))


def test_a_letter_about_the_parent_is_about_the_parent() -> None:
    made = folder("few-wets")
    seen = letter(made, None)
    assert seen.of("H1") == [f"Please see Beatrix Oyelaran today, Sat 28{NB}Nov: fever."]
    assert f"38.4{NB}°C" in seen.text
    assert "Malachy" not in seen.text
    assert "suspected dehydration" not in seen.text  # the infant's


def test_a_number_that_nobody_entered_is_never_invented() -> None:
    made = folder("ward-loss")
    said = letter(made, infant(made)).text
    assert "phone by day ask the clinic to fill in: ______" in said
    assert "phone at night ask the clinic to fill in: ______" in said


@pytest.mark.parametrize("key", ["twin-trouble", "few-wets", "home-trouble", "first-day"])
def test_every_letter_of_a_family_fits_one_page_in_spanish(key: str) -> None:
    made = folder(key, language="es", size="letter")
    papers = letters(made)
    assert len(papers) == len(made.record.infants) + 1
    for paper in papers:
        seen = see(pdf_of(paper, fonts_home()), language="es")
        assert (seen.faults, seen.pages) == ((), 1)


ARABIC = "سلمى بنت أحمد"
LONG = "Wilhelmina-Bartholomea Featherstonehaugh-Cholmondeley-Marjor"


@pytest.mark.parametrize("name", [LONG, ARABIC, '*x* #panic("y") $z$', "漢字", "O'Neil <b>"])
def test_any_name_stands_whole_on_one_page(name: str) -> None:
    made = folder_of_record(renamed(records()["twin-trouble"], name))
    seen = letter(made, infant(made, 1))
    # Letters read from the right are drawn, and read back here, from left to right.
    shown = {"漢字": NOT_DRAWN * 2, ARABIC: ARABIC[::-1]}.get(name, name)
    assert "".join(shown.split()) in "".join(seen.of("H1")[0].split())


def test_the_longest_texts_that_can_be_entered_still_fit_or_go_on_whole() -> None:
    record = records()["handed-over"]
    entries = tuple(
        msgspec.structs.replace(
            one, fact=msgspec.structs.replace(one.fact, asked="word " * 100, name="n" * 120)
        )
        if isinstance(one.fact, Handover)
        else one
        for one in record.entries
    )
    made = folder_of_record(msgspec.structs.replace(record, entries=entries))
    paper = made.paper(Offer(kind="letter", whose=infant(made)))
    seen = see(pdf_of(paper, fonts_home()), language="en")
    assert seen.faults == ()
    assert seen.text.count("word word") > 0
    assert seen.pages == 1


def test_the_age_of_twins_is_one_time_after_their_birth() -> None:
    """They are born minutes apart, and one of them may be a day older by the clock."""
    made = folder("twin-trouble")
    assert f"Marguerite Okoro-Santos, 12{NB}days after birth." in lines(letter(made, None))


def test_a_letter_to_somebody_who_is_phoned_first_does_not_ask_its_reader_to_phone():
    (row,) = [one for one in load().flags if one.code == "dry-day"]
    said = text_of(whom(who_and_how_soon(row)), Policy())
    assert said == "physician, by phone now; seen the same day"
    assert whom("the ward") == "the ward"


def test_on_a_page_somebody_who_is_phoned_first_is_said_as_one_act():
    said = {one.code: text_of(who_and_how_soon(one), Policy()) for one in load().flags}
    assert said["cold"] == "phone the physician now; to be seen the same day"
    within = "phone the maternity physician within the hour; to be seen the same day"
    assert said["parent-fever"] == within
    assert not [code for code, line in said.items() if "by phone" in line]


@pytest.mark.parametrize(
    ("last", "asks"), [("90 d: 4950 g", True), ("90 d: 5500 g", False)], ids=["slow", "well"]
)
def test_how_much_to_give_is_asked_where_a_plan_gives_nothing_and_it_gets_too_little(last, asks):
    seen = f"30 d: 4200 g; 60 d: 4800 g; {last}; 90 d: 6 wets in 24 h; 90 d: count of 8 feeds"
    girl = "girl, 39+0, 3400 g, vaginal"
    one = papers_of(Vignette("letter", "no amount", girl, seen, BORN_AT + timedelta(days=90), ()))
    assert one.made.proposal.tells_physician is asks
    paper = one.folder.paper(Offer(kind="letter", whose=one.made.asked.infant.infant_id))
    assert ("Please say what to give until" in text_in(paper)) is asks
