"""What the store answers, and what a clinic's own values and choices change."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import msgspec
import pytest

import content_folder
from spoken import text
from suffice.errors import ContentError, InputError
from suffice.knowledge.store import Content, load, load_folder, recomputed


@pytest.fixture
def content(tmp_path: Path) -> Content:
    return load_folder(content_folder.write(tmp_path))


def test_a_constant_brings_its_provenance(content: Content) -> None:
    first = content.constant("weights.first_g")
    assert (first.value, first.low, first.high, first.unit) == (10, 5, 20, "g")
    assert first.source == "A & B 2020, J 1:2"
    assert (first.locator, first.read) == ("table 1", "abstract")


def test_common_practice_says_that_there_is_no_source(content: Content) -> None:
    assert content.constant("weights.third_g.0").source == "common practice, no source"


def test_a_derived_value_names_its_formula_and_arguments(content: Content) -> None:
    assert content.constant("weights.second_g").source == (
        "derived: a + b, from weights.first_g, weights.first_g"
    )


def test_a_joined_point_carries_the_source_of_the_value_it_stands_for(content: Content) -> None:
    assert content.table("weights.fifth_g").at(3).source == "A & B 2020, J 1:2"


def test_an_unknown_key_names_the_nearest(content: Content) -> None:
    with pytest.raises(ContentError) as refused:
        content.constant("weights.frist_g")
    assert refused.value.problems[0].code == "CONTENT-013"
    assert "weights.first_g" in text(refused.value.problems[0].fix)


def test_unknown_tables_words_choices_and_topics_are_refused(content: Content) -> None:
    for ask in (content.table, content.words, content.chosen, content.constants):
        with pytest.raises(ContentError, match="CONTENT-013"):
            ask("nothing")


def test_constants_of_a_topic_come_by_full_key(content: Content) -> None:
    assert {"weights.first_g", "weights.third_g.0", "weights.fifth_g.7"} <= set(
        content.constants("weights")
    )
    assert set(content.constants("weights.third_g")) == {"weights.third_g.0", "weights.third_g.10"}


def test_an_override_is_named_and_what_derives_from_it_follows(content: Content) -> None:
    own = content.with_overrides({"weights.first_g": 12})
    assert own.constant("weights.first_g").value == 12
    assert own.constant("weights.first_g").overridden_from == 10
    assert own.constant("weights.second_g").value == 24
    assert own.constant("weights.second_g").overridden_from == 20
    assert own.table("weights.fourth_g").values == (22, 42)
    assert own.table("weights.fifth_g").values == (12, 24)
    assert content.constant("weights.second_g").value == 20


def test_an_overridden_derived_value_stays_as_the_clinic_wants_it(content: Content) -> None:
    own = content.with_overrides({"weights.first_g": 12, "weights.second_g": 30}, force=True)
    assert own.constant("weights.second_g").value == 30
    assert own.table("weights.fifth_g").values == (12, 30)


def test_a_point_of_a_series_can_be_overridden(content: Content) -> None:
    own = content.with_overrides({"weights.third_g.10": 26})
    assert own.table("weights.third_g").at(10).overridden_from == 30
    assert own.table("weights.third_g").at(5).value == 18
    assert own.table("weights.third_g").at(5).overridden_from == 20
    assert own.table("weights.fourth_g").values == (20, 36)


@pytest.mark.parametrize("value", [4.9, 20.1])
def test_a_value_outside_its_range_is_refused(content: Content, value: float) -> None:
    with pytest.raises(InputError, match="CONTENT-014"):
        content.with_overrides({"weights.first_g": value})


def test_a_value_outside_its_range_can_be_insisted_on(content: Content) -> None:
    own = content.with_overrides({"weights.first_g": 21}, force=True)
    assert own.constant("weights.first_g").value == 21


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("value", [0, 0.99, 100.1, float("nan"), float("inf")])
def test_a_value_beyond_its_limits_is_refused_whoever_insists(
    content: Content, value: float, force: bool
) -> None:
    assert content.limits("weights.first_g") == (1, 100)
    with pytest.raises(InputError, match="CONTENT-025") as refused:
        content.with_overrides({"weights.first_g": value}, force=force)
    (problem,) = refused.value.problems
    assert "1 to 100 g" in str(problem.fix)
    assert not problem.doubtful


def test_an_override_of_nothing_is_refused(content: Content) -> None:
    with pytest.raises(ContentError, match="CONTENT-013"):
        content.with_overrides({"weights.frist_g": 10})


def test_overrides_and_choices_change_the_digest_and_their_order_does_not(
    content: Content,
) -> None:
    own = content.with_overrides({"weights.first_g": 12})
    chosen = content.with_choices({"heaviest": "weights.second_g"})
    assert len({content.digest, own.digest, chosen.digest}) == 3
    assert content.with_overrides({"weights.first_g": 12}).digest == own.digest
    assert own.base_digest == content.digest
    one_way = own.with_choices({"heaviest": "weights.second_g"})
    other_way = chosen.with_overrides({"weights.first_g": 12})
    assert one_way.digest == other_way.digest


def test_a_choice_moves_what_is_in_force(content: Content) -> None:
    assert content.chosen("heaviest") == "weights.first_g"
    chosen = content.with_choices({"heaviest": "weights.second_g"})
    assert chosen.chosen("heaviest") == "weights.second_g"
    with pytest.raises(InputError, match="CONTENT-014"):
        content.with_choices({"heaviest": "weights.third_g"})


def test_what_derives_from_a_choice_follows_it(tmp_path: Path) -> None:
    folder = content_folder.write(
        tmp_path,
        (
            "weights.toml",
            "",
            """
[sixth_g]
value = 10
unit = "g"
basis = "derived"
formula = "same"
uses = ["choice:heaviest"]
applies_to = "nobody"
""",
        ),
    )
    content = load_folder(folder)
    other = content.with_choices({"heaviest": "weights.second_g"})
    assert content.constant("weights.sixth_g").value == 10
    assert other.constant("weights.sixth_g").value == 20
    assert other.constant("weights.sixth_g").overridden_from == 10
    both = other.with_overrides({"weights.first_g": 12})
    assert both.constant("weights.sixth_g").value == 24


def test_content_cannot_be_changed(content: Content) -> None:
    with pytest.raises(TypeError):
        content.flat["weights.first_g"] = content.constant("weights.second_g")  # type: ignore[index]
    with pytest.raises(FrozenInstanceError):
        content.version = "1"  # type: ignore[misc]


def test_the_shipped_content_is_read_once() -> None:
    assert load() is load()


def test_recomputing_needs_no_override(content: Content) -> None:
    assert recomputed(content, "weights.second_g") == 20
    assert recomputed(content, "weights.fourth_g", 10) == 40


def test_without_a_topic_all_constants_come(content: Content) -> None:
    assert content.constants("") == dict(content.flat)


def test_what_a_set_holds_in_another_shape_or_not_at_all_comes_from_a_later_one(
    content: Content,
) -> None:
    first, third = content.entries["weights.first_g"], content.entries["weights.third_g"]
    assert type(first) is not type(third)
    earlier = replace(
        content,
        entries={"weights.first_g": third, "weights.second_g": content.entries["weights.second_g"]},
    )
    completed = earlier.completed_from(content)
    assert dict(completed.entries) == dict(content.entries)


def test_what_a_flag_means_where_milk_is_judged_comes_from_a_later_set_where_it_is_not_said(
    content: Content,
) -> None:
    row = msgspec.structs.replace(content.flags[0], judged="ill")
    later = replace(content, flags=(row,))
    bare = msgspec.structs.replace(row, judged=None)
    gone = msgspec.structs.replace(bare, code="gone", topic="output")
    earlier = replace(content, flags=(bare, gone))
    assert [one.judged_as for one in earlier.completed_from(later).flags] == ["ill", "nothing"]
    said = replace(content, flags=(msgspec.structs.replace(row, judged="short"),))
    assert said.completed_from(later).flags[0].judged_as == "short"


@pytest.mark.parametrize("key", ["weights.nothing", "nothing.here", "weights"])
def test_what_is_no_value_has_no_limits(content: Content, key: str) -> None:
    with pytest.raises(ContentError, match="CONTENT-013"):
        content.limits(key)
