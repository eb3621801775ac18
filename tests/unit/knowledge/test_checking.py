"""What must hold between the tables of the content; the codes stand in test_reading.py."""

from __future__ import annotations

from pathlib import Path

import pytest

import content_folder
from suffice.errors import ContentError
from suffice.knowledge.checking import check
from suffice.knowledge.reading import read

SIXTH = """
[sixth_g]
value = {value}
unit = "g"
basis = "derived"
formula = "same"
uses = ["{used}"]
applies_to = "nobody"
"""


def problems(folder: Path, *changes: tuple[str, str, str]) -> list[tuple[str, str]]:
    found = read(content_folder.write(folder, *changes))
    try:
        check(found)
    except ContentError as refused:
        return [(one.code, one.where) for one in refused.problems]
    return []


def test_the_right_folder_has_no_problem(tmp_path: Path) -> None:
    assert problems(tmp_path) == []


@pytest.mark.parametrize(
    ("used", "exists"),
    [
        ("weights.first_g", True),
        ("weights.third_g.10", True),
        ("weights.third_g.5", False),
        ("weights.third_g", True),
        ("weights.ninth_g", False),
        ("choice:heaviest", True),
        ("choice:lightest", False),
        ("topics.none_g.10", False),
    ],
)
def test_an_argument_is_an_entry_a_point_of_one_or_a_choice(
    tmp_path: Path, used: str, exists: bool
) -> None:
    added = SIXTH.format(value=10, used=used)
    found = problems(tmp_path, ("weights.toml", "", added))
    assert (("CONTENT-007", "weights.sixth_g") not in found) == exists


def test_every_problem_is_told_at_once(tmp_path: Path) -> None:
    found = problems(
        tmp_path,
        ("content.toml", "2026.11.1", "1"),
        ("weights.toml", 'unit = "g"', 'unit = "kg"'),
        ("weights.toml", "", SIXTH.format(value="nan", used="weights.ninth_g")),
    )
    assert {code for code, _ in found} >= {
        "CONTENT-002",
        "CONTENT-004",
        "CONTENT-007",
        "CONTENT-009",
    }


@pytest.mark.parametrize(
    ("name", "is_right"), [("sixth_g", True), ("sixth", False), ("sixth_kg", False)]
)
def test_the_name_of_a_number_ends_in_its_unit(tmp_path: Path, name: str, is_right: bool) -> None:
    added = SIXTH.format(value=10, used="weights.first_g").replace("sixth_g", name)
    found = problems(tmp_path, ("weights.toml", "", added))
    assert (("CONTENT-004", f"weights.{name}") not in found) == is_right
