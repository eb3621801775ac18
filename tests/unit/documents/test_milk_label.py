"""Labels for milk: 62 by 29 mm, the time to use it by as the largest thing, a long name smaller and never cut."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from paper_source import NOW, SIZES, folder, folder_of_record, fonts_home, records, renamed
from pdf_reader import Seen, see
from suffice.documents.milk_label import LabelledMilk, milk_labels
from suffice.documents.page import Labels, pdf_of

KEY = "twin-trouble"
LONG = "Marguerite-Constance Okoro-Santos de la Fuente y Castellanos"
OWN = LabelledMilk(
    number="83AF9",
    milk="expressed",
    volume_ml=45,
    expressed_at=NOW,
    use_by_at=NOW + timedelta(days=4),
    side="left",
)
DONOR = LabelledMilk(
    number="77B21",
    milk="donor",
    volume_ml=60,
    expressed_at=NOW,
    use_by_at=NOW + timedelta(hours=24),
    thawed_at=NOW,
    lot="B-7719",
    needs_two=True,
)


def labels(*milks: LabelledMilk, name: str = "Perpetua", parent: str = "", **settings: Any) -> Seen:
    record = renamed(records()[KEY], parent) if parent else records()[KEY]
    made = folder_of_record(record, **settings)
    paper = milk_labels(made.source, name, "B", milks)
    seen = see(pdf_of(paper, fonts_home()), language=made.source.policy.language)
    assert seen.faults == ()
    return seen


@pytest.mark.parametrize("size", SIZES)
def test_it_says_whose_what_when_and_until_when(size: Any) -> None:
    said = labels(OWN, DONOR, size=size).text.replace("\N{NO-BREAK SPACE}", " ")
    for wanted in (
        "Perpetua (B), parent: Marguerite Okoro-Santos",
        "83AF9 expressed milk, 45 mL, left",
        "77B21 donor milk, 60 mL, lot B-7719",
        "USE BY Wed 2 Dec, 10:00",
        "USE BY Sun 29 Nov, 10:00",
    ):
        assert wanted in said


def test_what_is_not_known_yet_has_a_line_and_two_people_have_theirs() -> None:
    assert "Thawed ________" in labels(OWN).text
    assert "Read by ____ and ____" not in labels(OWN).text
    donor = labels(DONOR).text
    assert "Thawed ________" not in donor
    assert "Read by ____ and ____" in donor


@pytest.mark.parametrize("language", ["en", "es"])
def test_two_names_of_sixty_characters_are_on_it_whole(language: Any) -> None:
    seen = labels(OWN, DONOR, name=LONG, parent=LONG, language=language)
    assert "".join(seen.text.split()).count("".join(LONG.split())) >= 4
    assert seen.pages == 1


def test_many_labels_go_on_and_none_is_lost() -> None:
    many = [OWN] * 40
    seen = labels(*many)
    assert seen.pages > 1
    assert seen.text.count("USE BY") >= len(many)


def test_a_label_has_the_size_of_a_label() -> None:
    made = folder(KEY)
    block = next(
        one
        for one in milk_labels(made.source, "Perpetua", "", (OWN,)).blocks
        if isinstance(one, Labels)
    )
    assert (block.width_mm, block.height_mm) == (62.0, 29.0)
