from typing import ClassVar

import pytest

from clinical_constants import ColourWords, Steps, constant
from spoken import text
from suffice.clinical.parameters import (
    ConstantSeries,
    NamedParameters,
    Parameters,
    WordSeries,
)
from suffice.clinical.working import Constant
from suffice.errors import ContentError


class Example(Parameters, frozen=True, kw_only=True):
    """One field of each sort."""

    topic: ClassVar[str] = "example"
    keys: ClassVar[dict[str, str]] = {"elsewhere_g": "other.weight_g"}

    limit_g: Constant
    elsewhere_g: Constant
    by_day: ConstantSeries
    colours: WordSeries | None = None


NUMBERS = {"example.limit_g": constant(10, "g"), "other.weight_g": constant(20, "g")}
SERIES = {"example.by_day": Steps({0: 1})}


def test_a_group_is_filled_by_topic_and_field_or_by_its_own_key():
    group = Example.from_content(NUMBERS, SERIES)
    assert group.limit_g.value == 10
    assert group.elsewhere_g.value == 20
    assert group.by_day.at(3).value == 1
    assert group.colours is None


def test_words_are_taken_where_there_are_some():
    words = {"example.colours": ColourWords({0: ("black",)})}
    assert Example.from_content(NUMBERS, SERIES, words).colours.at(1) == ("black",)


def test_all_missing_keys_are_named_at_once():
    with pytest.raises(ContentError) as refusal:
        Example.from_content({})
    assert [text(problem.what) for problem in refusal.value.problems] == [
        "the constant example.limit_g",
        "the constant other.weight_g",
        "the constant example.by_day",
    ]
    assert {problem.code for problem in refusal.value.problems} == {"CONTENT-020"}


def test_a_number_never_stands_in_for_a_series():
    numbers = {**NUMBERS, "example.by_day": constant(1)}
    with pytest.raises(ContentError, match=r"example\.by_day"):
        Example.from_content(numbers)


class Named(NamedParameters, frozen=True, kw_only=True):
    """One field of its topic, and what declarations may name elsewhere."""

    topic: ClassVar[str] = "example"

    limit_g: Constant


class Naming(Named, frozen=True, kw_only=True):
    """The same, where declarations name two keys."""

    @classmethod
    def names(cls):
        return ("other.weight_g", "other.gone_g")


def test_a_key_named_elsewhere_is_held_beside_those_of_the_topic():
    group = Naming.from_content(NUMBERS)
    assert group.constant("limit_g").value == 10
    assert group.constant("other.weight_g").value == 20


def test_a_key_named_elsewhere_may_be_missing_from_a_set_of_the_past():
    assert Naming.from_content(NUMBERS).constant("other.gone_g") is None
    assert Naming(limit_g=constant(10)).constant("other.weight_g") is None


def test_where_nothing_is_named_elsewhere_nothing_is_taken():
    group = Named.from_content(NUMBERS)
    assert group.named == {}
    assert group.constant("other.weight_g") is None


def test_a_missing_key_of_the_topic_is_an_error_all_the_same():
    with pytest.raises(ContentError, match=r"example\.limit_g"):
        Naming.from_content({"other.weight_g": constant(20)})
