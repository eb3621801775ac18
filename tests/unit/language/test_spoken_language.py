"""Every invented family assessed in Spanish: no sentence of an assessment stays English."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache

import msgspec

from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment, Rank
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.clinical.entry import Illness, Record
from suffice.clinical.working import Working
from suffice.knowledge.policy import Language, Policy
from suffice.knowledge.store import load
from suffice.message import Words

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
ENGLISH = re.compile(
    r"\b(?:the|and|of|is|are|was|not|with|from|for|this|that|than|weight|below|above|days|birth|"
    r"between|which|hours|age|gain|feed|milk|at|by|in|on)\b",
    re.IGNORECASE,
)
POINT = re.compile(r"(?<![\d.])\d+\.\d+(?![\d.])")


@cache
def records() -> tuple[Record, ...]:
    return tuple(Families(scenario(), now=NOW, entered_by="consultant").records())


@cache
def assessed(
    language: Language, *, engine: bool = False, count: int = 24
) -> tuple[FamilyAssessment, ...]:
    policy, content = Policy(language=language, zone="Europe/Madrid"), load()
    return tuple(assess(record, NOW, content, policy, engine=engine) for record in records())


def said_in(family: FamilyAssessment) -> Iterator[tuple[str, str]]:
    """Where it stands, and what an assessment says."""
    policy = Policy(language="es", zone="Europe/Madrid")
    yield "rank", in_sentences(family.rank.reason, policy)
    for finding in (*family.findings, *(f for one in family.infants for f in one.findings)):
        yield finding.code, in_sentences(finding.messages, policy)
        yield f"{finding.code}, to whom", in_sentences(finding.to_whom, policy)
    for infant in family.infants:
        yield from ((name, in_sentences(why, policy)) for name, why in infant.not_computed.items())


def without_free_text(text: str, family: FamilyAssessment) -> str:
    """A sentence without what a person typed: names and illnesses stay as they are."""
    typed = [str(infant.name) for infant in family.infants]
    record = next(one for one in records() if one.family_id == family.family_id)
    typed += [entry.fact.what for entry in record.entries if isinstance(entry.fact, Illness)]
    for one in typed:
        text = text.replace(one, "")
    return text


def test_no_sentence_of_an_assessment_stays_english() -> None:
    left = {
        f"{place}: {text}"
        for family in assessed("es")
        for place, text in said_in(family)
        if ENGLISH.search(without_free_text(text, family)) or POINT.search(text)
    }
    assert left == set()


def test_an_assessment_is_the_same_in_every_language() -> None:
    for english, spanish in zip(assessed("en"), assessed("es"), strict=True):
        assert english == spanish


def workings(family: FamilyAssessment) -> Iterator[Working]:
    for infant in family.infants:
        yield from (figure.working for figure in infant.figures.values())
        yield from (f.working for f in infant.findings if f.working is not None)


def test_every_working_can_be_said_in_spanish() -> None:
    texts = {
        in_sentences(text, Policy(language="es"))
        for family in assessed("en")
        for working in workings(family)
        for text in (working.formula, *(q.name for q in working.inputs), *working.notes)
    }
    codes = re.compile(r"\w*_\w*|[a-z]{1,2}|INTERGROWTH\S*|ln|sqrt")
    left = {text for text in texts if ENGLISH.search(codes.sub("", text)) or POINT.search(text)}
    assert left == set()


def test_what_the_engine_says_can_be_said_in_spanish() -> None:
    texts: set[Words] = set()
    for family in assessed("en", engine=True):
        for estimate in (infant.estimate for infant in family.infants):
            if estimate is not None:
                texts |= {one.sentence for one in estimate.cautions}
                texts |= {one.ask for one in estimate.suspects}
                texts |= {estimate.volume_sentence, estimate.limits_sentence}
                texts.add(estimate.calibration_sentence)
                texts.add("" if estimate.is_refused else estimate.next_weighing.because)
    texts.discard("")
    assert len(texts) > 10
    spanish = Policy(language="es")
    assert {
        words for words in texts if in_sentences(words, spanish) == in_sentences(words)
    } == set()


def test_an_assessment_can_be_written_as_json_in_any_language() -> None:
    for family in assessed("es")[:3]:
        assert msgspec.json.decode(msgspec.json.encode(family.rank), type=Rank) == family.rank
