"""What an author writes: misspelt fields are refused, and what follows from the fields."""

from __future__ import annotations

from datetime import date
from typing import get_args

import msgspec
import pytest

from suffice.knowledge.schema import (
    COLOUR_OF,
    Answer,
    Askable,
    Clears,
    Condition,
    Disagreement,
    Flag,
    Level,
    NumberEntry,
    SeriesEntry,
    Source,
    Term,
    Topic,
    Unit,
    WordsEntry,
)
from suffice.knowledge.store import load

SIGN = {"sign": "heavy"}
FLAG = {
    "code": "heavy",
    "about": "infant",
    "topic": "weight",
    "level": "physician",
    "when": SIGN,
    "sentence": "It is heavy.",
    "to_whom": "physician",
    "clears": {"by": ["measure"], "says": "a lighter weight"},
    "basis": "judgement",
    "why": "x",
}


def flag(**more: object) -> Flag:
    return msgspec.convert({**FLAG, **more}, Flag)


def condition(**written: object) -> Condition:
    """A condition as its author writes it: `all`, `any`, `not`."""
    return msgspec.convert(written, Condition)


@pytest.mark.parametrize(
    ("fields", "short"),
    [
        ({"authors": "A & B", "year": 2020, "published_in": "J 1:2"}, "A & B 2020, J 1:2"),
        ({"authors": "A & B", "year": 2020}, "A & B 2020, On weights"),
        ({"authors": "A & B"}, "A & B, On weights"),
        ({"authors": "", "year": 2020, "published_in": "J 1:2"}, "On weights 2020, J 1:2"),
        ({"authors": "", "year": 2020}, "On weights 2020"),
        ({"authors": ""}, "On weights"),
    ],
)
def test_a_short_citation_says_who_when_and_where_and_nothing_twice(fields, short) -> None:
    assert Source(title="On weights", kind="paper", **fields).short == short


@pytest.mark.parametrize(
    "kind",
    [
        Unit, Source, Topic, NumberEntry, SeriesEntry, WordsEntry, Answer, Disagreement, Condition,
        Askable, Clears, Flag, Term,
    ],
)  # fmt: skip
def test_a_misspelt_field_is_refused(kind: type[msgspec.Struct]) -> None:
    with pytest.raises(msgspec.ValidationError, match="colur"):
        msgspec.convert({"colur": "red"}, kind)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("about", "twin"),
        ("topic", "weather"),
        ("level", "urgent"),
        ("shown", "orange"),
        ("doubt", "perhaps"),
        ("basis", "well known"),
        ("clears", {"by": ["sleep"], "says": "x"}),
        ("when", {"measure": "weight_g", "compare": "=", "limit": "x"}),
    ],
)
def test_a_word_that_the_table_does_not_know_is_refused(field: str, value: object) -> None:
    with pytest.raises(msgspec.ValidationError, match=field):
        flag(**{field: value})


@pytest.mark.parametrize("field", FLAG)
def test_a_flag_lacks_none_of_what_it_must_say(field: str) -> None:
    with pytest.raises(msgspec.ValidationError, match=field):
        msgspec.convert({name: value for name, value in FLAG.items() if name != field}, Flag)


@pytest.mark.parametrize(
    ("level", "colour"),
    [
        ("emergency", "red"),
        ("physician", "red"),
        ("consultant", "amber"),
        ("look", "amber"),
        ("note", "note"),
    ],
)
def test_a_flag_is_shown_in_the_colour_of_its_level_unless_it_says_another(level, colour) -> None:
    assert flag(level=level).colour == colour
    assert flag(level=level, shown="red").colour == "red"


def test_every_level_has_its_colour() -> None:
    assert list(COLOUR_OF) == list(get_args(Level))


def test_what_is_joined_is_all_and_any_and_not_in_that_order() -> None:
    first, second, third = (condition(sign=name) for name in ("a", "b", "c"))
    joined = Condition(not_of=third, any_of=(second,), all_of=(first,))
    assert joined.parts == (first, second, third)
    assert first.parts == ()


def test_a_condition_gives_itself_and_all_below_it_from_the_top() -> None:
    whole = condition(all=[SIGN, {"any": [{"flag": "x"}, {"not": {"undecided": "y"}}]}])
    names = [(one.sign, one.flag, one.undecided) for one in whole.each()]
    assert names == [
        ("", "", ""),
        ("heavy", "", ""),
        ("", "", ""),
        ("", "x", ""),
        ("", "", ""),
        ("", "", "y"),
    ]


@pytest.mark.parametrize(
    "narrowing",
    [
        {"from_age": "a.b"},
        {"until_age": "a.b"},
        {"from_gestation": "a.b"},
        {"until_gestation": "a.b"},
        {"traits": {"mode": ("vaginal",)}},
    ],
)
def test_ages_gestation_and_traits_narrow_and_nothing_else_does(narrowing) -> None:
    assert condition(**narrowing).narrows
    assert condition(sign="heavy", **narrowing).narrows
    for plain in (SIGN, {"measure": "m", "compare": ">", "limit": "a.b"}, {"all": [narrowing]}):
        assert not condition(**plain).narrows


def test_a_condition_is_asked_of_the_whole_interval_unless_it_says_otherwise() -> None:
    assert condition(measure="m").interval == "whole"
    assert flag().doubt == "none"


def test_a_disagreement_is_between_its_answers() -> None:
    answers = tuple(Answer(key=key, name="x", changes="x") for key in ("a.b", "a.c"))
    made = Disagreement(
        question="x",
        changes="x",
        answers=answers,
        chosen="a.b",
        decision="x",
        decided_on=date(2026, 11, 25),
    )
    assert made.candidates == ("a.b", "a.c")
    assert made.decides


def test_a_number_has_no_range_unless_one_is_written_and_a_point_may_have_one() -> None:
    entry = next(one for one in load().entries.values() if isinstance(one, SeriesEntry))
    number = next(one for one in load().entries.values() if isinstance(one, NumberEntry))
    bare = msgspec.structs.replace(number, low=None, high=None)
    assert msgspec.convert(msgspec.to_builtins(bare), NumberEntry) == bare
    written = {**msgspec.to_builtins(entry), "points": [[0, 1.5, 1.0, 2.0], [1, 2.5]]}
    assert msgspec.convert(written, SeriesEntry).points == ((0, 1.5, 1.0, 2.0), (1, 2.5))
