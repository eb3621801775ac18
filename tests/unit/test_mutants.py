"""Small faults put into the code: drawn alike each time, made in a copy, judgements kept."""

from __future__ import annotations

import pytest

from tool_modules import tool_module

mutants = tool_module("mutants")
PATH = "src/suffice/clinical/x.py"
PLACE = "clinical/x.py"


def changes(source: str) -> set[str]:
    code = source.encode()
    found = mutants.mutants_of(PATH, code)
    return {mutants.mutated(code, mutant).decode() for mutant in found}


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("a < b", {"(a <= b)"}),
        ("a is not b", {"(a is b)"}),
        ("a + b", {"(a - b)"}),
        ("a and b", {"(a or b)"}),
        ("x = 2", {"x = (3)", "x = (1)"}),
        ("def f(): return a", {"def f(): return (None)"}),
        ("b if a else c", {"b if (not (a)) else c"}),
        ("x = 'é' + y", {"x = ('é' - y)"}),
        ("def f(): return None", set()),
        ("x: Literal[2] = y", set()),
        ("x = True", set()),
        ("x = f'{a + b}'", set()),
    ],
)
def test_each_kind_of_change(source: str, expected: set[str]) -> None:
    assert changes(source) == expected


def test_the_sample_is_drawn_alike_and_a_larger_one_begins_with_it() -> None:
    every = mutants.possible()
    few = mutants.drawn(every, 20)
    assert len(few) == 20
    assert mutants.drawn(every, 40)[:20] == few
    assert len({mutant.path for mutant in few}) > 5


def test_the_test_beside_a_module_comes_first() -> None:
    groups = mutants.tests_near("src/suffice/clinical/age.py", mutants.imports_of_the_package())
    assert groups[0] == ["tests/unit/clinical/test_age.py"]
    assert "tests/property/test_age.py" in groups[1]


def test_a_change_is_made_in_the_copy_and_taken_back(tmp_path) -> None:
    file = tmp_path / PATH
    file.parent.mkdir(parents=True)
    file.write_text("def f(a, b):\n    return a + b\n")
    (tmp_path / "test_weak.py").write_text("def test_nothing(): pass\n")
    (tmp_path / "test_x.py").write_text(
        f"import runpy\ndef test_f(): assert runpy.run_path({str(file)!r})['f'](1, 2) == 3\n"
    )
    before = file.read_bytes()
    mutant = next(m for m in mutants.mutants_of(PATH, before) if "-" in m.new)
    took_s = {"test_x.py": 0.0, "test_weak.py": 0.0}
    runner = mutants.Runner(tmp_path)
    states = {
        name: mutants.judged(runner, mutant, groups, took_s).state
        for name, groups in {
            "near": [["test_weak.py"], ["test_x.py"]],
            "weak": [["test_weak.py"]],
            "none": [],
        }.items()
    }
    runner.close()
    assert states == {"near": "killed", "weak": "survived", "none": "untested"}
    assert file.read_bytes() == before


def test_judgements_outlive_a_run_and_moved_lines() -> None:
    here = mutants.Mutant(PATH, 3, 10, 15, "a < b", "(a <= b)")
    other = mutants.Mutant(PATH, 9, 90, 95, "a | b", "(a & b)")
    page = mutants.page_of(
        [mutants.Outcome(here, "survived"), mutants.Outcome(other, "survived")],
        [here, other],
        [],
        "",
    )
    assert "0 were noticed (0%)" in page
    judged = page.replace("`(a <= b)` |  |", "`(a <= b)` | the same at a whole day |")
    judged = judged.replace(r"`(a & b)` |  |", "`(a & b)` | to test |")
    moved = mutants.Mutant(PATH, 4, 12, 17, "a < b", "(a <= b)")
    again = mutants.page_of([mutants.Outcome(moved, "survived")], [moved, other], [], judged)
    assert f"| `{PLACE}:4` | `a < b` → `(a <= b)` | the same at a whole day |" in again
    assert again.count("to test") == 1
    noticed = mutants.page_of([mutants.Outcome(moved, "killed")], [moved], [], judged)
    assert "whole day" not in noticed
    assert "**1 were noticed (100%)**" in noticed
