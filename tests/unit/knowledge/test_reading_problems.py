"""Content with a wrong problem is refused, naming the row and what is wrong."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from suffice.errors import ContentError
from suffice.knowledge import reading_problems
from suffice.knowledge.store import load, load_folder

FOLDER = Path(reading_problems.__file__).parent / "content"


@pytest.mark.parametrize(
    ("file", "old", "new", "says"),
    [
        ("latching", "chin is no", "chin is not", "has no answer"),
        ("latching", "chin is no", "chen is no", "nobody can observe"),
        ("latching", "chin is no", "chin = no", "cannot be read"),
        ("latching", ">= problem.painful_points", ">= problem.week_h", "no limit in the unit"),
        ("latching", ">= problem.painful_points", ">= problem.nothing", "no limit in the unit"),
        ("latching", '"no-swallows"', '"no-such-flag"', "there is no flag"),
        ("latching", '"push_head"', '"improve_latch"', "there is no warning"),
        ("latching", '"improve_latch"', '"push_head"', "there is no instruction"),
        ("latching", '"corners_touch"', '"corners"', "nobody can observe"),
        ("latching", 'sources = ["openu_attachment"]', 'sources = ["nowhere"]', "is not entered"),
        ("latching", ', sources = ["openu_attachment"]', "", "names its source"),
        ("nipples", 'cause_of = "nipple_pain"', 'cause_of = "nothing"', "which is no problem"),
        ("rules", 'wins = "usual"', 'wins = "less"', "one of the two"),
        ("rules", 'basis = "judgement"', 'basis = "published"', "names its source"),
        ("instructions", '\nsources = ["toronto_8"]', "", "names its source"),
        ("instructions", '"toronto_8"', '"nowhere"', "is not entered"),
        ("rules", 'topic = "removal"', 'topic = "weather"', "no instruction pulls"),
        ("contradictions", '"redness is none"', '"redness is nothing"', "has no answer"),
        ("contradictions", '"red_where"', '"red_there"', "nobody can observe"),
        ("contradictions", '"breast_red_sign is yes"', '"breast_red_sign = yes"', "cannot be read"),
        ("contradictions", 'found = ["discharge_days"]\n', "", "nothing contradicts it"),
        ("contradictions", 'basis = "common practice"', 'basis = "published"', "names its source"),
    ],
)
def test_a_fault_is_named(tmp_path: Path, file: str, old: str, new: str, says: str) -> None:
    shutil.copytree(FOLDER, tmp_path / "content")
    path = tmp_path / "content" / "problems" / f"{file}.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ContentError) as refused:
        load_folder(tmp_path / "content")
    faults = [one for one in refused.value.problems if one.code == "CONTENT-024"]
    assert any(says in str(one.why) for one in faults), [str(one.why) for one in faults]


def test_a_folder_without_problems_is_read(tmp_path: Path) -> None:
    """A set that was frozen before there were any still reads; the program completes it."""
    shutil.copytree(FOLDER, tmp_path / "content")
    shutil.rmtree(tmp_path / "content" / "problems")
    shutil.rmtree(tmp_path / "content" / "observations")
    shutil.rmtree(tmp_path / "content" / "sheets")
    (tmp_path / "content" / "scores.toml").unlink()
    old = load_folder(tmp_path / "content")
    assert old.guide.problems == {}
    completed = old.completed_from(load())
    assert completed.guide is load().guide
    assert completed.vocabularies["observations"] == load().vocabularies["observations"]
    assert completed.known == load().known


def test_a_problem_whose_table_is_not_one_is_named_with_its_place(tmp_path: Path) -> None:
    shutil.copytree(FOLDER, tmp_path / "content")
    path = tmp_path / "content" / "problems" / "latching.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("by_side = true", "of_a_side = true", 1), encoding="utf-8")
    with pytest.raises(ContentError, match="CONTENT-002") as refused:
        load_folder(tmp_path / "content")
    assert any(
        "problems/latching.toml shallow_latch" in str(p.where) for p in refused.value.problems
    )
