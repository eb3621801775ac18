"""Every flag, on each side of its threshold, from the tables in triage/."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from rows import each_row
from spec.vignette import Vignette, read_vignettes
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import FamilyAssessment, Finding, Tier
from suffice.knowledge.store import load
from sweeps import each

TABLES = sorted(Path(__file__).with_name("triage").glob("*.md"))
VIGNETTES = tuple(one for path in TABLES for one in read_vignettes(path))


@cache
def assessed(vignette: Vignette) -> FamilyAssessment:
    """As it is asked; once in a process, since several tests look at the same one."""
    content = vignette.policy.content_in_force(load())
    return assess(vignette.record, vignette.asked_at, content, vignette.policy, engine=False)


def findings_of(assessment: FamilyAssessment) -> dict[str, Finding]:
    found = [*assessment.findings, *assessment.infants[0].findings]
    return {finding.code: finding for finding in found}


@each_row(VIGNETTES, lambda one: f"{one.chapter}: {one.case}")
def test_the_vignette_says_what_the_table_says(vignette):
    assessment = assessed(vignette)
    found = findings_of(assessment)
    for expected in vignette.says:
        word, name = expected.split(" ", 1)
        if word == "group":
            accepted = {Tier[one] for one in name.split(" or ")}
            assert assessment.rank.tier in accepted, assessment.rank
        elif word == "no":
            assert name not in found, in_sentences(found[name].messages)
        else:
            assert name in found, sorted(found)
            assert word in {found[name].colour, found[name].level}, found[name]


def expected(word: str) -> set[str]:
    parts = [says.split(" ", 1) for vignette in VIGNETTES for says in vignette.says]
    return {name for first, name in parts if first == word}


def test_every_flag_of_the_content_has_a_vignette_on_each_side():
    """Those about the engine's answer are asked in tests/unit/assess/engine, twins in test_twin.

    What is in force only where a clinic has chosen it is asked in tests/unit/assess too.
    """
    flags = {flag.code: flag for flag in load().flags if flag.topic != "engine"}
    del flags["two-kinds-of-flags"], flags["twin-of-one-in-need"], flags["caesarean-loss-well"]
    del flags["twin-of-one-that-died"]
    assert flags
    unseen = {
        code
        for code, flag in flags.items()
        if code not in expected(flag.colour) | expected(flag.level)
    }
    assert not unseen
    assert not flags.keys() - expected("no")


def test_every_finding_that_someone_must_know_of_says_who_and_a_red_one_a_number_or_a_time():
    for vignette in VIGNETTES[:: each(4)]:
        for finding in findings_of(assessed(vignette)).values():
            must_know = finding.level in {"emergency", "physician", "consultant"}
            assert bool(finding.to_whom) == must_know, finding.code
            if finding.colour == "red":
                assert any(character.isdigit() for character in in_sentences(finding.messages))
