"""The Spanish keeps to the words of docs/reference/languages.md, and says the numbers and limits of its English."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import pytest
from tools import messages

TABLE = messages.ROOT / "docs/reference/languages.md"
GAP = re.compile(r"\{\w*\}|%\(\w+\)[sd]|%%|<[^>]+>")
NUMBER = re.compile(r"\d*[.,]?\d+")
LIMIT = re.compile(
    r"\bwithin (?:the hour|half an hour|a day|\{hours\}|\*?\{?\w+\}? (?:hours?|days?)\b)",
    re.IGNORECASE,
)
AS_LIMIT = re.compile(
    r"en menos de|antes de|en el plazo de|a más tardar|con menos de|siguientes a|en los (?:últimos|próximos)",
    re.IGNORECASE,
)
NO_LIMIT = (
    "A narrowed duct mostly opens",
    "Such a loss within a day is rare",
    "each end within",
)
"""What happens within a time, and is no limit that somebody has to keep."""
FORMAL = re.compile(
    r"\b(?:tú|tu|tus|ti|contigo|te|vosotros|vosotras|vuestr[oa]s?)\b", re.IGNORECASE
)
TERMS = {
    r"\btest weights?\b": r"doble(s)? pesada",
    r"\bcentiles?\b": r"percentil",
    r"\bbilirubin\b": r"bilirrubina",
    r"\bgestation\b": r"gestaci",
    r"\bsupplements?\b": r"suplement",
    r"\bdonor milk\b": r"donad",
    r"\bpacifiers?\b": r"chupete",
    r"\bnipple shield\b": r"pezonera",
    r"\bfontanelle\b": r"fontanela",
    r"\bcaesarean\b": r"cesárea",
    r"\bphysicians?\b": r"médic",
    r"\bphone (?:for )?an? ambulance\b": r"ambulancia",
    r"\bself-harm\b": r"autolesi|hacerse daño",
    r"\bat or above\b": r"o por encima|igual|superior|o más",
    r"\bat least\b": r"al menos|menos|mínimo|o más",
    r"\bnever\b": r"nunca|ning|\bno\b",
}
"""What must be in the Spanish wherever it is in the English."""


@cache
def pairs() -> tuple[tuple[str, str], ...]:
    """Every text of the catalogue with its Spanish, form by form."""
    found: list[tuple[str, str]] = []
    for one in messages.messages_of(messages.read("es")):
        if isinstance(one.id, str):
            found.append((one.id, one.string))
        else:
            found += zip(one.id, one.string, strict=True)
    return tuple(found)


def never() -> Iterator[str]:
    """The words in the last column of the table, each by itself."""
    for line in (
        TABLE.read_text(encoding="utf-8").split("## Words chosen in Spanish")[1].split("\n")
    ):
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 3 and cells[0] != "English" and not cells[0].startswith("---"):
            yield from (word.strip() for word in cells[2].split(",") if word.strip())


def digits(text: str) -> list[str]:
    return sorted(one.replace(",", ".").lstrip("0") for one in NUMBER.findall(GAP.sub(" ", text)))


def test_the_table_of_words_is_read() -> None:
    words = list(never())
    assert len(words) > 25
    assert {"lactante", "dolor de pecho", "chupón"} <= set(words)


@pytest.mark.parametrize("word", list(never()))
def test_a_word_that_was_not_chosen_is_not_used(word: str) -> None:
    sought = re.compile(rf"\b{re.escape(word)}(?:s|es)?\b", re.IGNORECASE)
    assert [text for _, text in pairs() if sought.search(text)] == []


@pytest.mark.parametrize("english", TERMS)
def test_a_term_has_its_one_word(english: str) -> None:
    sought, must = re.compile(english, re.IGNORECASE), re.compile(TERMS[english], re.IGNORECASE)
    asked = [(source, text) for source, text in pairs() if sought.search(GAP.sub(" ", source))]
    assert asked
    assert [one for one in asked if not must.search(one[1])] == []


def test_a_limit_of_time_is_said_as_a_limit() -> None:
    asked = [
        (source, text)
        for source, text in pairs()
        if LIMIT.search(source) and not any(part in source for part in NO_LIMIT)
    ]
    assert len(asked) > 80
    assert [one for one in asked if not AS_LIMIT.search(one[1])] == []


def test_the_numbers_are_those_of_the_english() -> None:
    differing = [one for one in pairs() if digits(one[0]) != digits(one[1])]
    assert differing == []


def test_everybody_is_addressed_as_usted() -> None:
    assert [text for _, text in pairs() if FORMAL.search(GAP.sub(" ", text))] == []
