"""Every value of the content is read by something, and every choice offered changes an answer.

What is asked is found by asking: the parameters, the engine and the growth prior are filled from a
content that remembers its keys. To that come the keys the program names, the rules, what a value
that is read derives from, and the other answers to a question of which one is read.
"""

from __future__ import annotations

import ast
import dataclasses
from collections.abc import Iterator, Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
from tools.same_answers import cases

import suffice
from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.assessment import assess
from suffice.assess.parameters import parameters_of
from suffice.clinical.entry import Record
from suffice.inference.estimate import Question
from suffice.inference.infant.population import Population
from suffice.knowledge.asked import read_asked
from suffice.knowledge.assembly import CHOICE
from suffice.knowledge.growth_forecast import growth_of
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content, load
from suffice.plan.mark import mark_parameters
from suffice.plan.parameters import fed_parameters, plan_parameters, production_parameters
from suffice.plan.schedule_parameters import schedule_parameters

CONTENT = load()
PROGRAM = Path(suffice.__file__).parent


class Remembering(dict[str, Any]):
    """A mapping that keeps which of its keys were asked for; to walk through it asks for none."""

    def __init__(self, held: Mapping[str, Any], asked: set[str]) -> None:
        super().__init__(held)
        self.asked = asked

    def __getitem__(self, key: str) -> Any:
        self.asked.add(key)
        return super().__getitem__(key)

    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(key)
        return super().get(key, default)


def asked_of(content: Content) -> set[str]:
    """The keys for which the computations ask when they are set up."""
    asked: set[str] = set()
    held = {
        name: Remembering(getattr(content, name), asked) for name in ("flat", "series", "wordings")
    }
    heard = dataclasses.replace(content, **held)  # type: ignore[arg-type]  # mappings by name
    parameters_of(heard)
    plan_parameters(heard)
    production_parameters(heard)
    fed_parameters(heard)
    schedule_parameters(heard)
    mark_parameters(heard)
    growth_of(heard)
    values = {key: one.value for key, one in content.flat.items()}
    population = Remembering(values, asked)
    Population.from_constants(population)
    Question.from_constants(population)
    return asked


def named_in_the_program() -> set[str]:
    """Every text in the program that could be a key."""
    return {
        node.value
        for path in PROGRAM.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and "." in node.value
    }


def texts_of(value: Any) -> Iterator[str]:
    """Every text in a row of a table: among them the keys of its limits and ages."""
    if isinstance(value, str):
        yield value.removeprefix("chosen:") if value.startswith("chosen:") else value
    elif isinstance(value, dict):
        for one in value.values():
            yield from texts_of(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from texts_of(one)


def unread(content: Content) -> set[str]:
    """The entries that nothing reads."""

    def entries_of(keys: set[str]) -> set[str]:
        found: set[str] = set()
        for key in keys:
            name = key.removeprefix(CHOICE)
            if key.startswith(CHOICE):
                found.update(content.disagreements[name].candidates)
            else:
                found.add(name if name in content.entries else name.rpartition(".")[0])
        return found & set(content.entries)

    by_flag = set(texts_of(msgspec.to_builtins(content.flags)))
    chosen = {
        key for one in content.disagreements.values() if one.decides for key in one.candidates
    }
    guide = content.guide
    conditions = [when for one in guide.problems.values() for when in one.conditions()]
    conditions += [when for one in guide.contradictions for when in one.conditions()]
    by_problem = {
        asked.limit for when in conditions for asked in read_asked(when).single() if asked.limit
    }
    by_sheet = {key for one in content.sheets.values() for key in one.numbers.values()}
    asked = asked_of(content) | named_in_the_program()
    read = entries_of(asked | by_flag | by_problem | by_sheet | chosen)
    while True:
        used = {used for key in read for used in content.entries[key].uses}
        answers = {
            key
            for one in content.disagreements.values()
            if read & set(one.candidates)
            for key in one.candidates
        }
        more = entries_of(used | answers) - read
        if not more:
            return set(content.entries) - read
        read |= more


def test_every_value_is_read_by_a_computation_a_rule_or_a_page() -> None:
    assert sorted(unread(CONTENT)) == []


@pytest.mark.parametrize("topic", ["temperature", "population", "gain"])
def test_a_value_that_nothing_reads_is_found(topic: str) -> None:
    entry = next(one for key, one in CONTENT.entries.items() if key.startswith(f"{topic}."))
    key = f"{topic}.planted_and_read_by_nothing"
    planted = dataclasses.replace(
        CONTENT,
        entries={**CONTENT.entries, key: msgspec.structs.replace(entry, uses=())},
        flat={**CONTENT.flat, key: next(iter(CONTENT.flat.values()))},
    )
    assert unread(planted) == {key}


OFFERED = [
    (name, key)
    for name, one in CONTENT.disagreements.items()
    if one.decides
    for key in one.candidates
    if key != one.chosen
]
WELL_AFTER_CAESAREAN = record_of(
    "boy, 39+0, 3400 g, caesarean",
    "72 h: 3050 g; 72 h: 3 wets in 24 h; 72 h: 2 stools in 24 h;"
    " 72 h: no sign does_not_wake_for_feeds; 72 h: no sign jaundice",
)
"""An example of what the drawn records do not hold: everything known that makes such an infant a well one."""


@cache
def records() -> tuple[tuple[str, Record, datetime], ...]:
    return (("well after a caesarean", WELL_AFTER_CAESAREAN, BORN_AT + age_of("73 h")), *cases())


def told(content: Content, record: Record, as_of: datetime) -> Any:
    """Findings, rank, dates and figures of an assessment, without how they came about."""
    return without_workings(
        msgspec.to_builtins(assess(record, as_of, content, Policy(), engine=False))
    )


def without_workings(value: Any) -> Any:
    """The same without the keys that only explain."""
    if isinstance(value, dict):
        return {key: without_workings(one) for key, one in value.items() if key != "working"}
    return [without_workings(one) for one in value] if isinstance(value, list) else value


@cache
def told_now(place: int) -> Any:
    """What is told of a record by the content as it ships."""
    _name, record, as_of = records()[place]
    return told(CONTENT, record, as_of)


@pytest.mark.parametrize(("name", "key"), OFFERED)
def test_each_choice_that_is_offered_changes_an_assessment(name: str, key: str) -> None:
    other = CONTENT.with_choices({name: key})
    assert any(
        told(other, record, as_of) != told_now(place)
        for place, (_name, record, as_of) in enumerate(records())
    )


def test_a_choice_that_is_not_offered_changes_none() -> None:
    silent = {name: one for name, one in CONTENT.disagreements.items() if not one.decides}
    assert silent
    for name, one in silent.items():
        for key in set(one.candidates) - {one.chosen}:
            other = CONTENT.with_choices({name: key})
            for place, (_name, record, as_of) in enumerate(records()[:40]):
                assert told(other, record, as_of) == told_now(place), (name, key)
