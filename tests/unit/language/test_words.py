"""What the program says keeps to docs/words.md: words to avoid, and how long the reason of a rank is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import pytest
from tools import messages

from spec.test_triage import VIGNETTES, assessed
from suffice.assess.assessment import assess
from suffice.assess.reason import MOST_WORDS
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.language.text import sentences_of
from suffice.message import Words
from sweeps import each

AVOIDED = re.compile(
    r"\b(reckon\w*|mend(?:s|ed|ing)?|instants?|laid down|freed of|judg(?:e|es|ed|ing)|stands?|holds?|told"
    r"|tells? of|lies?|whence|thence|hence|thus|nought|shall|upon|wherein|whereof|amiss|beyond|besides?"
    r"|in force|yet another|speaks?|is said|supposed|borne)\b",
    re.IGNORECASE,
)
ALLOWED = {
    "child who speaks": "a child that can talk",
    "speak only where nobody else hears": "aloud",
    "can you stand": "on her feet",
    "soft spot stand above": "a fontanelle that bulges",
    "soft spot lie in a hollow": "a fontanelle that is sunken",
    "Lie down with": "lying, of a person",
    "Lie on the side": "lying, of a person",
    "kisses or holds the infant": "in the arms",
    "somebody else holds the infant": "in the arms",
    "hold the infant": "in the arms",
    "Hold the limb": "with the hand",
    "Any hold is good": "a way to hold an infant at the breast",
    "Find your hold": "a way to hold an infant at the breast",
    "Hold behind the shoulders": "with the hand",
    "Hold the baby": "in the arms",
    "Hold your baby": "in the arms",
    "a helper hold": "in the arms",
    "bra that holds you": "of a garment",
    "lie on your side": "lying, of a person",
    "your baby lies on top": "lying, of a person",
    "as you were told": "by a physician, to a family",
    "stomach hold": "the room of a stomach",
    "rarely hold enough milk": "the milk of a feed",
    "in force": "of the policy: the answer to a question, or the value, that a clinic uses",
}
"""A phrase to why the word in it is meant as it is."""
MEDIAN_WORDS = 20
STYLE_SHEET = Path(__file__).resolve().parents[3] / "docs/words.md"
GAP = re.compile(r"\{\w+\}|%\(\w+\)[sd]")


def forms() -> Iterator[str]:
    for one in messages.messages_of(messages.gathered("es")):
        yield from [one.id] if isinstance(one.id, str) else one.id


def avoided_in(text: str) -> list[str]:
    for phrase in ALLOWED:
        text = re.sub(re.escape(phrase), "", text, flags=re.IGNORECASE)
    return [found.group(0) for found in AVOIDED.finditer(GAP.sub("", text))]


def test_no_sentence_has_a_word_to_avoid() -> None:
    found = {form: words for form in forms() if (words := avoided_in(form))}
    assert not found


@pytest.mark.parametrize(
    "bad", ["This instant lies before birth.", "Nothing is amiss.", "weight now, freed of noise"]
)
def test_a_sentence_with_such_a_word_is_found(bad: str) -> None:
    assert avoided_in(bad)


def test_each_allowed_phrase_is_said_somewhere() -> None:
    said = "\n".join(forms()).lower()
    assert not [phrase for phrase in ALLOWED if phrase.lower() not in said]


def test_each_word_is_on_the_style_sheet() -> None:
    sheet = STYLE_SHEET.read_text(encoding="utf-8")
    for word in ("reckon", "mend", "instant", "judge", "amiss", "beside", "beyond", "in force"):
        assert f"\n| {word}" in sheet


def length_of(reason: tuple[Words, ...], policy: Policy) -> int:
    """Words of a reason; what no line break may part, such as a value and its unit, counts as one."""
    return len(sentences_of(list(reason), policy).split(" "))


def test_the_reason_of_a_rank_is_short_in_the_vignettes() -> None:
    lengths = [length_of(assessed(one).rank.reason, Policy()) for one in VIGNETTES[:: each(5)]]
    assert median(lengths) <= MEDIAN_WORDS
    assert max(lengths) <= MOST_WORDS


def test_the_reason_of_a_rank_is_short_in_the_demo_families() -> None:
    written, now = scenario(), datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
    policy = Policy(zone=written.service.zone)
    lengths = {
        one.key: length_of(assess(record, now, load(), policy).rank.reason, policy)
        for one, record in zip(
            written.family,
            Families(written, now=now, entered_by="consultant").records(),
            strict=True,
        )
    }
    assert not {key: length for key, length in lengths.items() if length > MOST_WORDS}
    assert median(lengths.values()) <= MEDIAN_WORDS
