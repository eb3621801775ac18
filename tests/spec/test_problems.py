"""The tables of problems that a consultant can read and extend: every row is evaluated, without the engine."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

from rows import each_row
from suffice.assess.problems import NamedProblems, State, instructions_of, name_problems
from suffice.assess.problems.found import Finds
from suffice.assess.rules.table import Found, Side
from suffice.assess.rules.truth import COMPARE
from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER
from suffice.knowledge.schema import LEVELS
from suffice.knowledge.store import load

CONTENT = load()
FOLDER_OF_TABLES = Path(__file__).parent / "problems"
STATES = {
    "strong": State.STRONG,
    "supported": State.SUPPORTED,
    "open": State.OPEN,
    "against": State.AGAINST,
    "excluded": State.EXCLUDED,
}


class Row(NamedTuple):
    place: str
    found: str
    says: tuple[str, ...]


def rows() -> Iterator[Row]:
    for path in sorted(FOLDER_OF_TABLES.glob("[a-z]*.md")):
        for line in path.read_text(encoding="utf-8").splitlines():
            cells = [cell.strip() for cell in line.strip("| ").split(" | ")]
            if line.startswith("| ") and len(cells) == 3 and cells[0] != "case":
                says = tuple(part.strip() for part in cells[2].split(","))
                yield Row(f"{path.stem}: {cells[0]}", cells[1], says)


ROWS = list(rows())


def finds_of(text: str) -> Finds:
    found: dict[str, list[Found]] = {}
    for part in text.split(";"):
        *side, key, answer = part.split()
        known = CONTENT.vocabularies[FOLDER].get(key) or CONTENT.known[key]
        where: Side = side[0] if side else ""  # type: ignore[assignment]  # left or right
        if known.type == "number":
            one = Found((), float(answer), where)
        else:
            answers = tuple(answer.split("|"))
            assert set(answers) <= set(known.answers), part
            one = Found(answers, None, where)
        found.setdefault(key, []).append(one)
    return {key: tuple(those) for key, those in found.items()}


@cache
def named(text: str) -> NamedProblems:
    return name_problems(finds_of(text), CONTENT)


@each_row(ROWS, lambda row: row.place)
def test_a_row_says_what_it_says(row: Row) -> None:
    result = named(row.found)
    states = {one.key: one.state for one in result.problems}
    for part in row.says:
        word, _, rest = part.partition(" ")
        if word == "split":
            assert result.split.answer == rest, part
        elif word == "asks":
            assert rest in [one.key for one in result.ask[:3]], (part, result.ask[:3])
        elif word == "named":
            assert states[rest] > State.OPEN, (part, states[rest])
        elif word == "not":
            assert states[rest] <= State.OPEN, (part, states[rest])
        elif word == "below":
            assert most_urgent(result) > LEVELS.index(rest), part
        elif word == "at_least":
            assert most_urgent(result) <= LEVELS.index(rest), part
        elif word == "urgent":
            assert most_urgent(result) == LEVELS.index(rest), part
        elif word == "first":
            assert result.named[0].key == rest, part
        elif word == "never":
            assert rest in CONTENT.guide.instructions, part
            steps = instructions_of(result.named, CONTENT.guide)
            assert rest not in {one.key for one in steps if one.kind == "do"}, part
        else:
            assert states[rest] is STATES[word], (part, states[rest])


def most_urgent(result: NamedProblems) -> int:
    """Its place among the levels; behind all where nothing is named."""
    return min((LEVELS.index(one.level) for one in result.named), default=len(LEVELS))


def test_every_problem_has_a_typical_case_a_look_alike_and_one_mostly_not_asked() -> None:
    said: dict[str, set[str]] = {}
    for row in ROWS:
        for part in row.says:
            word, _, rest = part.partition(" ")
            said.setdefault(rest, set()).add(word)
    for key in CONTENT.guide.problems:
        words = said.get(key, set())
        assert words & {"strong", "supported"}, (key, "no typical case")
        assert words & {"against", "excluded"}, (key, "no look-alike")
        assert "open" in words or key in {"late_preterm_feeding", "breast_refusal"}, key


def test_each_limit_has_a_case_on_either_side() -> None:
    """Of what supports a problem strongly or excludes it; that a case decides is seen by its own row."""
    numbers: dict[str, set[float]] = {}
    for row in ROWS:
        for key, those in finds_of(row.found).items():
            numbers.setdefault(key, set()).update(
                one.number for one in those if one.number is not None
            )
    missing = set()
    for one in CONTENT.guide.problems.values():
        for statement in (*one.strong, *one.excludes):
            for asked in read_asked(statement.when).single():
                if asked.compare is not None:
                    limit = CONTENT.constant(asked.limit).value
                    compare = COMPARE[asked.compare]
                    said = {compare(one, limit) for one in numbers.get(asked.find, ())}
                    if said != {True, False}:
                        missing.add((asked.find, asked.limit))
    assert missing == set()
