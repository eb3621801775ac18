"""From entries as written to values with their source; what follows from a clinic's own values."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

import content_folder
from suffice.errors import ContentError, RefusalError
from suffice.knowledge.assembly import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    derived_in_order,
    resolved,
    source_of,
    written_tolerance,
)
from suffice.knowledge.reading import read
from suffice.knowledge.store import Content, load_folder

COLOURS = """
[sixth_g]
axis = "age_h"
points = [[0, ["black", "green"]], [10, ["yellow"]]]
until = 20
unit = "g"
basis = "common practice"
applies_to = "nobody"
note = "Everybody does so; no source."
"""


@pytest.fixture
def content(tmp_path: Path) -> Content:
    return load_folder(content_folder.write(tmp_path, ("weights.toml", "", COLOURS)))


def test_words_along_an_axis_are_had_with_their_source(content: Content) -> None:
    words = content.words("weights.sixth_g")
    assert (words.at(0), words.at(9.9), words.at(10)) == (("black", "green"),) * 2 + (("yellow",),)
    assert words.source == COMMON_PRACTICE
    with pytest.raises(RefusalError, match="CONTENT-015"):
        words.at(20)
    assert "weights.sixth_g" not in content.flat


def test_a_clinics_own_value_leaves_words_as_they_are(content: Content) -> None:
    own = content.with_overrides({"weights.first_g": 12})
    assert own.words("weights.sixth_g") == content.words("weights.sixth_g")


def test_every_basis_says_where_its_value_is_from(tmp_path: Path) -> None:
    found = read(content_folder.write(tmp_path))
    published = found.entries["weights.first_g"]

    def source_text(**changed: object) -> str:
        return source_of(msgspec.structs.replace(published, **changed), found.sources)

    assert source_text() == "A & B 2020, J 1:2"
    assert source_text(basis=FROM_MEMORY) == f"A & B 2020, J 1:2 ({FROM_MEMORY})"
    assert source_text(basis=FROM_MEMORY, citations=()) == FROM_MEMORY
    judged = {"basis": "judgement", "judged_by": "the authors", "judged_on": "2026-11-25"}
    assert source_text(**judged) == "judgement of the authors: A & B 2020, J 1:2"
    assert source_text(**judged, citations=()) == "judgement of the authors"
    assert source_text(basis="common practice") == COMMON_PRACTICE
    assert source_text(citations=()) == ""


def test_derived_values_come_after_what_they_are_derived_from(content: Content) -> None:
    ordered = derived_in_order(content.entries, {"heaviest": "weights.first_g"})
    assert set(ordered) == {"weights.second_g", "weights.fourth_g", "weights.fifth_g"}
    assert ordered.index("weights.second_g") < ordered.index("weights.fifth_g")


def test_a_value_derived_from_itself_is_refused_with_the_way_round(content: Content) -> None:
    entries = dict(content.entries)
    for key, used in (("weights.first_g", "second"), ("weights.second_g", "first")):
        entries[key] = msgspec.structs.replace(entries[key], uses=(f"weights.{used}_g",))
    with pytest.raises(ContentError, match="CONTENT-007") as refused:
        derived_in_order(entries, {})
    assert " -> " in str(refused.value)


def test_an_argument_may_be_whatever_is_chosen_of_a_disagreement() -> None:
    assert resolved("weights.first_g", {}) == "weights.first_g"
    assert resolved("choice:heaviest", {"heaviest": "weights.second_g"}) == "weights.second_g"
    with pytest.raises(KeyError):
        resolved("choice:lightest", {})


@pytest.mark.parametrize(
    ("value", "tolerance"), [(10.0, 0.5), (0.0, 0.5), (10.2, 0.05), (0.125, 0.0005), (-3.5, 0.05)]
)
def test_a_written_value_stands_for_all_that_round_to_it(value: float, tolerance: float) -> None:
    assert written_tolerance(value) == pytest.approx(tolerance, rel=1e-6)
    assert written_tolerance(value) > tolerance
