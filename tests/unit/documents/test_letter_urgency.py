"""A letter never asks later than the hand-over of a named problem, nor later than what is flagged."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import msgspec
import pytest

from paper_source import NOW, folder, records
from spec.papers_of import text_in
from suffice.assess.problems import NamedProblems, Weighed
from suffice.assess.results import Finding, KnownSince
from suffice.clinical.entry import ProblemStatus
from suffice.documents.folder import Folder
from suffice.documents.letter import letter
from suffice.documents.letter_urgency import FOR_A_PHYSICIAN, handed_sooner
from suffice.knowledge.problem import HandOver

KEY = "slow-gain"


def over(level: str, within_h: float, to_whom: str = "a physician") -> HandOver:
    return HandOver(level=level, within_h=within_h, to_whom=to_whom, when="", basis="judgement")  # type: ignore[arg-type]


def flag(level: str, **more: Any) -> Finding:
    colour = "red" if level in FOR_A_PHYSICIAN else "amber"
    return Finding(
        code="slow", level=level, colour=colour, topic="gain", name="slow months",  # type: ignore[arg-type]
        messages=("Gaining little.",), to_whom="physician, the same day", **more,
    )  # fmt: skip


def problem_of(made: Folder, *handed: HandOver) -> Weighed:
    """A named problem of the infant that is handed over so."""
    found = next(
        one
        for named in made.problems.values()
        for one in named.named
        if one.problem.about == "infant" and not one.problem.reassures
    )
    return msgspec.structs.replace(found, hand_over=handed, open_flags=())


def first_lines(findings: tuple[Finding, ...], *handed: HandOver, **changes: Any) -> list[str]:
    """The letter about an infant with these flags and a problem that is handed over so."""
    made = folder(KEY)
    (infant,) = made.source.assessment.infants
    told = msgspec.structs.replace(infant, findings=findings)
    assessed = msgspec.structs.replace(made.source.assessment, infants=(told,), findings=())
    source = msgspec.structs.replace(made.source, assessment=assessed, **changes)
    (named,) = made.problems.values()
    named = msgspec.structs.replace(named, problems=(problem_of(made, *handed),))
    text = text_in(letter(source, told.infant_id, named))
    return text.replace("\N{NO-BREAK SPACE}", " ").split("\n")


@pytest.mark.parametrize(
    ("level", "handed", "starts"),
    [
        # The problem is sooner: by the hour, and as an emergency at once.
        ("physician", over("emergency", 1, "the hospital"), "Emergency. Please see {name} now: findings"),
        ("physician", over("physician", 6), "Please see {name} by Sat 28 Nov, 16:00: findings"),
        ("consultant", over("physician", 24), "Please see {name} by Sun 29 Nov, 10:00: findings"),
        ("look", over("physician", 72), "Please see {name} by Tue 1 Dec, 10:00: findings"),
        ("look", over("physician", 336), "Please see {name} by Sat 12 Dec: findings"),
        # The flag is sooner.
        ("emergency", over("emergency", 1), "Emergency. Please see {name} now: slow months."),
        ("physician", over("physician", 24), "Please see {name} today, Sat 28 Nov: slow months."),
        ("consultant", over("physician", 72), "Please advise on {name} within a day, by Sun 29 Nov: slow"),
        # What is the writer's own, or no physician's, moves nothing.
        ("look", over("consultant", 24, "the consultant"), "Please look at {name} at the next visit: slow"),
        ("look", over("look", 72, "a feeding therapist"), "Please look at {name} at the next visit: slow"),
    ],
)  # fmt: skip
def test_the_sooner_of_flag_and_problem_is_asked(level: str, handed: HandOver, starts: str) -> None:
    made = folder(KEY)
    name = str(made.source.assessment.infants[0].name)
    assert first_lines((flag(level),), handed)[0].startswith(starts.format(name=name))


def test_a_problem_without_a_flag_is_no_letter_for_information() -> None:
    lines = first_lines((), over("physician", 168), over("physician", 6, "the prescriber"))
    assert lines[0].startswith("Please see ")
    assert "by Sat 28 Nov, 16:00: findings consistent with" in lines[0]
    assert lines[1] == "For: the prescriber."
    assert first_lines(())[0].startswith("For information: ")


def test_what_a_physician_knows_of_is_not_asked_again() -> None:
    made = folder(KEY)
    code = problem_of(made).problem.flags[0]
    known = msgspec.structs.replace(
        flag("note"),
        code=code,
        colour="note",
        known=KnownSince(at=NOW, until=NOW + timedelta(days=1)),
    )
    assert first_lines((known,), over("physician", 24))[0].startswith("For information: ")


def test_what_was_decided_to_be_over_is_not_asked() -> None:
    made = folder(KEY)
    whose = made.source.assessment.infants[0].infant_id
    some = made.source.own(whose)[-1]
    for status, is_asked in (("open", True), ("settled", False), ("not so", False)):
        fact = ProblemStatus(problem=problem_of(made).key, status=status)  # type: ignore[arg-type]
        entries = (*made.source.entries, msgspec.structs.replace(some, fact=fact))
        lines = first_lines((), over("physician", 24), entries=entries)
        assert lines[0].startswith("Please see ") is is_asked, status


@pytest.mark.parametrize("key", sorted(records()))
def test_no_letter_of_the_demo_asks_later_than_a_problem(key: str) -> None:
    made = folder(key)
    for whose, named in made.problems.items():
        for one in (whose, None):
            asked = _soonest_h(named, one)
            if asked is None:
                continue
            lines = text_in(letter(made.source, one, named)).split("\n")
            if asked <= 1:
                assert lines[0].startswith("Emergency."), lines[0]
            elif asked <= 24:
                assert lines[0].startswith(("Emergency.", "Please see")), lines[0]


def _soonest_h(named: NamedProblems, whose: object) -> float | None:
    about = "parent" if whose is None else "infant"
    hours = [
        0.0 if each.level == "emergency" else each.within_h
        for one in named.named
        if one.problem.about == about
        for each in one.hand_over
        if each.level in FOR_A_PHYSICIAN
    ]
    return min(hours, default=None)


def test_without_problems_nothing_is_handed_over() -> None:
    source = folder(KEY).source
    assert handed_sooner(source, None, (), None) is None
