"""What is done for the named problems together: each instruction once, and no two that fight.

Where two instructions pull one thing in two ways, a rule of the content says which wins and what the
family is given to read; the one that loses is not said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, Literal

import msgspec

from suffice.assess.problems.named import Weighed
from suffice.knowledge.problem import BOTH, NOT, Guide, Problem, Rule

ROUTINE: Final = "Z39.1"
"""A routine visit of a nursing mother: the tabular excludes it beside any of `OF_LACTATION`."""
OF_LACTATION: Final = "O92"


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """One instruction, or the words of a rule that took the place of two.

    Attributes:
        kind: 'do' or 'avoid'.
        key: Key of the instruction.
        says: What is done or not.
        problems: The problems that ask for it.
        rules: What the family reads where another instruction would fight with it; where two go together
            the first of them says how.
    """

    kind: Literal["do", "avoid"]
    key: str
    says: str
    problems: tuple[str, ...]
    rules: tuple[str, ...] = ()


def instructions_of(named: Iterable[Weighed], guide: Guide) -> tuple[Step, ...]:
    """The instructions for some problems, what is done first.

    Args:
        named: The problems, the most urgent first.
        guide: Instructions and rules of the content.
    """
    return steps_of(((one.key, one.problem) for one in named), guide)


def steps_of(problems: Iterable[tuple[str, Problem]], guide: Guide) -> tuple[Step, ...]:
    """The same of problems of which only the key is known."""
    asked: dict[tuple[Literal["do", "avoid"], str], list[str]] = {}
    for problem, one in problems:
        for key in one.do:
            asked.setdefault(("do", key), []).append(problem)
        for key in one.avoid:
            asked.setdefault(("avoid", key), []).append(problem)
    steps = [
        Step(
            kind=kind,
            key=key,
            says=guide.instructions[key].do if kind == "do" else guide.instructions[key].avoid,
            problems=tuple(those),
        )
        for (kind, key), those in asked.items()
    ]
    return tuple(_resolved(steps, guide))


def ways_of(step: Step, guide: Guide) -> dict[str, str]:
    """What a step acts on, to the way in which it pulls it, or that it warns of a way."""
    instruction = guide.instructions.get(step.key)
    acts = instruction.acts_on if instruction else {}
    return {topic: way if step.kind == "do" else NOT + way for topic, way in acts.items()}


def fight(one: Step, other: Step, guide: Guide) -> Iterator[tuple[str, str, str]]:
    """(topic, way, other way) wherever two steps pull a thing in two ways."""
    first, second = ways_of(one, guide), ways_of(other, guide)
    for topic in first.keys() & second.keys():
        ways = (first[topic], second[topic])
        are_done = one.kind == other.kind == "do" and ways[0] != ways[1]
        warns = ways[0] == NOT + ways[1] or ways[1] == NOT + ways[0]
        if are_done or warns:
            yield (topic, *ways)


def rule_for(topic: str, ways: Iterable[str], guide: Guide) -> Rule | None:
    """The rule between two ways; None where there is none."""
    those = set(ways)
    found = (one for one in guide.rules if one.topic == topic and set(one.ways) == those)
    return next(found, None)


def _resolved(steps: list[Step], guide: Guide) -> Iterator[Step]:
    lost: set[tuple[str, str]] = set()
    says: dict[tuple[str, str], list[str]] = {}
    # Most act on nothing that another could pull: of a hundred steps few are left to compare.
    acting = [one for one in steps if ways_of(one, guide)]
    for place, one in enumerate(acting):
        for other in acting[place + 1 :]:
            for topic, *ways in fight(one, other, guide):
                rule = rule_for(topic, ways, guide)
                if rule is None:
                    continue
                if rule.wins == BOTH:
                    # What is done stands before what is not: whoever does it must read how.
                    first = other if other.kind == "do" != one.kind else one
                    says.setdefault((first.kind, first.key), []).append(rule.says)
                    continue
                loser = one if ways_of(one, guide)[topic] != rule.wins else other
                winner = other if loser is one else one
                lost.add((loser.kind, loser.key))
                says.setdefault((winner.kind, winner.key), []).append(rule.says)
    for step in sorted(steps, key=lambda one: one.kind != "do"):
        if (step.kind, step.key) not in lost:
            sentences = tuple(dict.fromkeys(says.get((step.kind, step.key), ())))
            yield msgspec.structs.replace(step, rules=sentences)


def codes_of(
    named: Iterable[Weighed], about: Literal["infant", "parent"], age_d: float | None
) -> tuple[str, ...]:
    """The codes of ICD-10-CM for the named problems of one person, at an age of the infant in days.

    The routine visit is left out beside a disorder of lactation: the tabular excludes them together.
    """
    found = dict.fromkeys(
        code.code
        for one in named
        if one.problem.about == about
        for code in one.problem.codes
        if code.is_for(age_d)
    )
    if any(code.startswith(OF_LACTATION) for code in found):
        found.pop(ROUTINE, None)
    return tuple(found)
