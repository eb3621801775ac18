"""What must hold of the vocabulary of observations, and of the problems that ask it, beyond their shape."""

from __future__ import annotations

from suffice.knowledge.observable import FOLDER, KNOWN, KnownFact, Observable, faults_of
from suffice.knowledge.problem import FOLDER as PROBLEMS
from suffice.knowledge.problem import INSTRUCTIONS
from suffice.knowledge.reading import Faults, Written
from suffice.knowledge.reading_problems import (
    faults_of_basis,
    faults_of_contradiction,
    faults_of_problem,
    faults_of_rule,
)
from suffice.knowledge.score import SCORES, ScoreTool, faults_of_score
from suffice.knowledge.sheet import FOLDER as SHEETS
from suffice.knowledge.sheet import faults_of_sheet
from suffice.message import Message, message


def check_observations(found: Written, faults: Faults) -> None:
    """Note every fault of the vocabulary: CONTENT-023, and CONTENT-012 for a key that is used twice."""
    words = found.vocabularies[FOLDER]
    signs = found.vocabularies["signs"]
    every: dict[str, Observable | KnownFact] = dict(found.known)
    every.update({key: one for key, one in words.items() if isinstance(one, Observable)})
    for key in sorted(found.known.keys() & words.keys()):
        faults.add(
            "CONTENT-012",
            f"{KNOWN}.toml {key}",
            what=message("'{key}' is entered as an observation too.", key=key),
            why=message("What follows from other entries is not entered a second time."),
            fix=message("Take it out of one of the two."),
        )
    for key, one in every.items():
        for fault in faults_of(one, found.units, signs):
            faults.add(
                "CONTENT-023",
                f"{FOLDER} {key}",
                what=message("The observation '{key}' is not as it should be.", key=key),
                why=message("The rule: {fault}.", fault=fault),
                fix=message("Correct it; docs/reference/content.md lists the fields."),
            )
    for key, score in found.vocabularies.get(SCORES, {}).items():
        for fault in (
            faults_of_score(score, found.parts, found.sources)
            if isinstance(score, ScoreTool)
            else ()
        ):
            _note(f"{SCORES} {key}", fault, faults)
    _check_guide(every, found, faults)


def _check_guide(facts: dict[str, Observable | KnownFact], found: Written, faults: Faults) -> None:
    """Note every fault of the problems, the rules between instructions, and the sheets: CONTENT-024."""
    flags = frozenset(row.code for row in found.flags)
    sources = frozenset(found.sources)
    limits = {key: one.unit for key, one in found.entries.items()}
    for key, one in found.guide.problems.items():
        for fault in faults_of_problem(one, facts, limits, found.guide, flags, sources):
            _note(f"{PROBLEMS} {key}", fault, faults)
    for key, sentences in found.guide.instructions.items():
        for fault in faults_of_basis(sentences, sources):
            _note(f"{INSTRUCTIONS} {key}", fault, faults)
    for rule in found.guide.rules:
        for fault in (*faults_of_rule(rule, found.guide), *faults_of_basis(rule, sources)):
            _note(f"{PROBLEMS} rules {rule.topic}", fault, faults)
    for row in found.guide.contradictions:
        for fault in (
            *faults_of_contradiction(row, facts, limits),
            *faults_of_basis(row, sources),
        ):
            _note(f"{PROBLEMS} contradictions {row.when}", fault, faults)
    for key in found.sheets:
        problems = found.guide.problems.keys()
        for fault in faults_of_sheet(key, found.sheets, problems, found.entries, sources):
            _note(f"{SHEETS} {key}", fault, faults)


def _note(where: str, fault: Message, faults: Faults) -> None:
    faults.add(
        "CONTENT-024",
        where,
        what=message("The row '{where}' is not as it should be.", where=where),
        why=message("The rule: {fault}.", fault=fault),
        fix=message("Correct it; docs/reference/content.md lists the fields."),
    )
