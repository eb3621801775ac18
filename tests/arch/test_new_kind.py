"""The command that begins a new kind of entry begins one that works."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from arch.test_tests import fault_of, place_of_tests
from tool_modules import ROOT, tool_module

TOOL = tool_module("new_kind")
TESTS = "tests/unit/clinical/entry"

# The names tried here are none that somebody would add: a kind that is there is refused.
USE = """
import json
from suffice.clinical.entry import KINDS
from suffice.exchange.family.family_json import schema
from suffice.exchange.table.columns import guess
kind = KINDS["trial kind"]
print(json.dumps([kind.__name__, guess("trial kind", 0).spelt, "TrialKind" in schema()["$defs"]]))
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of what the command touches, and of what must work afterwards."""
    left_out = shutil.ignore_patterns("__pycache__", "frozen", "static", "templates")
    shutil.copytree(ROOT / "src", tmp_path / "src", ignore=left_out)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / TESTS).mkdir(parents=True)
    shutil.copy(ROOT / "tests/csv_case.py", tmp_path / "tests")
    return tmp_path


def ran(house: Path, *command: str) -> str:
    """What a command says that sees the copy and nothing of this checkout."""
    paths = os.pathsep.join(str(house / one) for one in ("src", "tests"))
    done = subprocess.run(
        [sys.executable, *command],
        cwd=house,
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_what_it_begins_is_a_kind_with_a_column_a_schema_and_a_test_that_passes(
    house: Path,
) -> None:
    written = TOOL.begun("trial kind", house)
    assert [path.name for path in written] == ["trial_kind.py", "test_trial_kind.py", "record.py"]
    assert ran(house, "-c", USE).strip() == '["TrialKind", "trial kind", true]'
    said = ran(house, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(written[1]))
    assert "1 passed" in said


@pytest.mark.parametrize(
    "name", ["trial kind", "trial of a kind", "a name of quite some length for a kind"]
)
def test_it_is_formatted_and_linted_as_the_rest(house: Path, name: str) -> None:
    written = [str(path) for path in TOOL.begun(name, house)]
    ran(house, "-m", "ruff", "format", "--no-cache", "--check", *written)
    ran(house, "-m", "ruff", "check", "--no-cache", *written)


def test_its_tests_stand_where_those_of_a_module_belong(house: Path) -> None:
    declaration, test, _record = TOOL.begun("trial kind", house)
    module = declaration.relative_to(house / "src/suffice").as_posix()
    assert place_of_tests(module) == test.relative_to(house).as_posix()
    assert fault_of(module, ast.parse(test.read_text(encoding="utf-8"))) is None


REFUSED = {
    "": "a kind needs a name",
    "Trial kind": "small letters",
    "trial  kind": "small letters",
    "class": "a word of Python",
    "weight": "there is a kind",
    "field": "is there already",
    "chosen": "the name of something else",
    "basis": "the name of something else",
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_name_that_cannot_be_is_refused_and_nothing_is_written(house: Path, name: str) -> None:
    before = (house / TOOL.RECORD).read_text(encoding="utf-8")
    there = {one.name for one in (house / TOOL.ENTRY).iterdir()}
    with pytest.raises(ValueError, match=REFUSED[name]):
        TOOL.begun(name, house)
    assert (house / TOOL.RECORD).read_text(encoding="utf-8") == before
    assert list((house / TESTS).iterdir()) == []
    assert {one.name for one in (house / TOOL.ENTRY).iterdir()} == there
