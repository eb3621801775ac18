"""Reads the problems of the content and finds what is wrong with them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, TypeVar

from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import KnownFact, Observable, Part
from suffice.knowledge.problem import (
    BOTH,
    CONTRADICTIONS,
    FOLDER,
    INSTRUCTIONS,
    NOT,
    RULES,
    Contradiction,
    Guide,
    Instruction,
    Problem,
    Rule,
    Sourced,
)
from suffice.message import Message, message

APART: Final = frozenset({INSTRUCTIONS, RULES, CONTRADICTIONS})
"""Files of the folder that hold no problems."""
Shaped = TypeVar("Shaped")
Shape = Callable[[Any, type[Shaped], Any], Shaped | None]


def read_guide(parsed: Mapping[str, dict[str, Any]], shaped: Shape[Any]) -> Guide:
    """The problems of a content folder, part by part.

    Args:
        parsed: Path of a file without its ending to what was read of it.
        shaped: A function of (table, shape, where) that notes what does not fit.
    """
    heads = {
        path: shaped(raw.get("part", {}), Part, f"{path}.toml part")
        for path, raw in parsed.items()
        if path.startswith(f"{FOLDER}/") and path not in APART
    }
    problems: dict[str, Problem] = {}
    for path, head in sorted(heads.items(), key=lambda one: one[1].place if one[1] else 0):
        for key, table in parsed[path].items():
            if key == "part" or head is None:
                continue
            brought = {"part": path.removeprefix(f"{FOLDER}/"), "group": head.title}
            full = brought | table if isinstance(table, dict) else table
            one = shaped(full, Problem, f"{path}.toml {key}")
            if one is not None:
                problems[key] = one
    instructions = {
        key: shaped(table, Instruction, f"{INSTRUCTIONS}.toml {key}")
        for key, table in parsed.get(INSTRUCTIONS, {}).items()
    }
    rules = [shaped(row, Rule, f"{RULES}.toml") for row in parsed.get(RULES, {}).get("rule", ())]
    contradictions = [
        shaped(row, Contradiction, f"{CONTRADICTIONS}.toml")
        for row in parsed.get(CONTRADICTIONS, {}).get("contradiction", ())
    ]
    return Guide(
        problems=problems,
        instructions={key: one for key, one in instructions.items() if one is not None},
        rules=tuple(one for one in rules if one is not None),
        contradictions=tuple(one for one in contradictions if one is not None),
    )


Facts = Mapping[str, Observable | KnownFact]


def faults_of_problem(  # what a problem may name
    one: Problem,
    facts: Facts,
    limits: Mapping[str, str],
    guide: Guide,
    flags: frozenset[str],
    sources: frozenset[str],
) -> Iterator[Message]:
    """What is wrong with a problem, each in a few plain words.

    Args:
        one: The problem.
        facts: What can be asked, by key.
        limits: Keys of limits to their units.
        guide: All problems and instructions.
        flags: Codes of the table of flags.
        sources: Names of sources.
    """
    for when in one.conditions():
        yield from _faults_of_condition(when, facts, limits)
    yield from _faults_of_names(one, facts, guide)
    for code in one.flags:
        if code not in flags:
            yield message("there is no flag '{code}'", code=code)
    for row in one.rows():
        yield from faults_of_basis(row, sources)


def faults_of_basis(row: Sourced, sources: frozenset[str]) -> Iterator[Message]:
    """What is wrong with what a row, an instruction or a rule rests on.

    Args:
        row: What says what it rests on.
        sources: Names of sources.
    """
    if (row.basis == "published") != bool(row.sources):
        yield message("what is published names its source, and nothing else does")
    for source in row.sources:
        if source not in sources:
            yield message("the source '{source}' is not entered", source=source)


def _faults_of_names(one: Problem, facts: Facts, guide: Guide) -> Iterator[Message]:
    for key in (*one.ask, *one.tells):
        if key not in facts:
            yield message("nobody can observe '{key}'", key=key)
    for key in one.do:
        if key not in guide.instructions or not guide.instructions[key].do:
            yield message("there is no instruction to do '{key}'", key=key)
    for key in one.avoid:
        if key not in guide.instructions or not guide.instructions[key].avoid:
            yield message("there is no warning '{key}'", key=key)
    if one.cause_of and one.cause_of not in guide.problems:
        yield message("it is a cause of '{key}', which is no problem", key=one.cause_of)


def _faults_of_condition(when: str, facts: Facts, limits: Mapping[str, str]) -> Iterator[Message]:
    try:
        asked = read_asked(when)
    except ValueError as error:
        yield message("'{when}' cannot be read: {error}", when=when, error=str(error))
        return
    for one in asked.single():
        fact = facts.get(one.find)
        if fact is None:
            yield message("nobody can observe '{key}'", key=one.find)
            continue
        for answer in one.answers:
            if answer not in fact.answers:
                yield message("'{key}' has no answer '{answer}'", key=one.find, answer=answer)
        if one.limit and (limits.get(one.limit) != fact.unit or not fact.unit):
            yield message(
                "'{limit}' is no limit in the unit of '{key}'", limit=one.limit, key=one.find
            )


def faults_of_contradiction(
    one: Contradiction, facts: Facts, limits: Mapping[str, str]
) -> Iterator[Message]:
    """What is wrong with a row of answers that cannot both be so."""
    for when in one.conditions():
        yield from _faults_of_condition(when, facts, limits)
    for key in one.found:
        if key not in facts:
            yield message("nobody can observe '{key}'", key=key)
    if not (one.found or one.also):
        yield message("nothing contradicts it")


def faults_of_rule(rule: Rule, guide: Guide) -> Iterator[Message]:
    """What is wrong with a rule."""
    ways = {way.get(rule.topic, "") for way in (one.acts_on for one in guide.instructions.values())}
    for way in rule.ways:
        if way.removeprefix(NOT) not in ways:
            yield message(
                "no instruction pulls '{topic}' the way '{way}'", topic=rule.topic, way=way
            )
    if rule.wins not in (*rule.ways, BOTH):
        yield message("the way that wins is one of the two")
