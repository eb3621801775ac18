"""Small faults put into the code: drawn alike each time, made in a copy, judgements kept."""

from __future__ import annotations

import dataclasses
import json

import pytest
from coverage import CoverageData

from tool_modules import tool_module

mutants = tool_module("mutants")
mutant_draw = tool_module("mutant_draw")
mutants_kept = tool_module("mutants_kept")
mutants_page = tool_module("mutants_page")
PATH = "src/suffice/clinical/x.py"
PLACE = "clinical/x.py"


def changes(source: str) -> set[str]:
    code = source.encode()
    found = mutant_draw.mutants_of(PATH, code)
    return {mutant_draw.mutated(code, mutant).decode() for mutant in found}


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
    every = mutant_draw.possible()
    few = mutant_draw.drawn(every, 20)
    assert len(few) == 20
    assert mutant_draw.drawn(every, 40)[:20] == few
    assert len({mutant.path for mutant in few}) > 5


def test_the_test_beside_a_module_comes_first() -> None:
    groups = mutants.tests_near("src/suffice/clinical/age.py", mutants.imports_of_the_package())
    assert groups[0] == ["tests/unit/clinical/test_age.py"]
    assert "tests/property/test_age.py" in groups[1]


def reach_of(folder, tests: dict[str, tuple[float, list[int]]], failed=(), path: str = PATH):
    """What the tests run: seconds and lines of a file by test."""
    data = CoverageData(str(folder / "lines"))
    for test, (_, lines) in tests.items():
        data.set_context(test)
        data.add_lines({str(mutants.ROOT / path): lines})
    data.write()
    took_s = {test: s for test, (s, _) in tests.items() if test and test not in failed}
    noted = {"passed": took_s, "failed": list(failed)}
    (folder / "seconds.json").write_text(json.dumps(noted))
    return mutants.Reach(folder / "lines", folder / "seconds.json")


def test_tests_that_run_the_line_come_nearest_and_quickest_first(tmp_path) -> None:
    path = "src/suffice/clinical/age.py"
    code = (mutants.ROOT / path).read_bytes()
    mutant = next(m for m in mutant_draw.mutants_of(path, code) if m.new == "(None)")
    line, own = mutant.line, "tests/unit/clinical/test_age.py::"
    reach = reach_of(
        tmp_path,
        {
            "tests/spec/test_a.py::slow": (3.0, [line]),
            "tests/spec/test_a.py::quick": (0.1, [line]),
            "tests/spec/test_a.py::too_slow": (mutants.MOST_S, [line]),
            "tests/spec/test_a.py::elsewhere": (0.0, [line + 1000]),
            "tests/spec/test_a.py::fails": (0.0, [line]),
            own + "its_own": (5.0, [line]),
        },
        failed=["tests/spec/test_a.py::fails"],
        path=path,
    )
    assert reach.tests(mutant, {}) == [
        [own + "its_own"],
        ["tests/spec/test_a.py::quick", "tests/spec/test_a.py::slow"],
    ]
    assert reach.limit_s([own + "its_own"]) == mutants.PATIENCE_S + 20
    assert reach.limit_s(["tests/spec/test_a.py"]) == mutants.PATIENCE_S + 4 * (
        3.1 + mutants.MOST_S
    )


def test_a_line_that_only_an_import_runs_gets_the_files_that_import_it(tmp_path) -> None:
    path = "src/suffice/clinical/age.py"
    code = (mutants.ROOT / path).read_bytes()
    mutant = mutant_draw.mutants_of(path, code)[0]
    reach = reach_of(tmp_path, {"": (0.0, [mutant.line])}, path=path)
    groups = reach.tests(mutant, mutants.imports_of_the_package())
    assert groups[0] == ["tests/unit/clinical/test_age.py"]
    assert "tests/property/test_age.py" in groups[1]


@pytest.mark.parametrize(
    ("line", "expected"),
    [(1, [1, 2]), (3, [3]), (5, [4, 5]), (6, [6]), (7, [7])],
)
def test_a_statement_has_its_own_lines_and_one_that_holds_others_its_head(line, expected) -> None:
    source = b"if (a and\n    b):\n    c\nd = (e +\n    f)\nwhile g:\n    h\n"
    mutant = mutant_draw.Mutant(PATH, line, 0, 0, "", "", "")
    assert list(mutant_draw.statement_lines(source, mutant)) == expected


def test_a_change_is_made_in_the_copy_and_taken_back(tmp_path) -> None:
    file = tmp_path / PATH
    file.parent.mkdir(parents=True)
    file.write_text("def f(a, b):\n    return a + b\n")
    (tmp_path / "test_weak.py").write_text("def test_nothing(): pass\n")
    (tmp_path / "test_x.py").write_text(
        f"import runpy\ndef test_f(): assert runpy.run_path({str(file)!r})['f'](1, 2) == 3\n"
    )
    before = file.read_bytes()
    mutant = next(m for m in mutant_draw.mutants_of(PATH, before) if "-" in m.new)
    reach = reach_of(tmp_path, {"test_x.py::test_f": (0.0, [2])})
    runner = mutants.Runner(tmp_path)
    states = {
        name: mutants.judged(runner, mutant, groups, reach).state
        for name, groups in {
            "near": [["test_weak.py"], ["test_x.py::test_f"]],
            "weak": [["test_weak.py"]],
            "none": [],
        }.items()
    }
    runner.close()
    assert states == {"near": "killed", "weak": "survived", "none": "untested"}
    assert file.read_bytes() == before


def test_only_what_was_noticed_in_the_same_file_is_kept(tmp_path, monkeypatch) -> None:
    for module in (mutants_kept, mutant_draw):
        monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(mutants_kept, "FOLDER", tmp_path)
    monkeypatch.setattr(mutants_kept, "OUTCOMES", tmp_path / "outcomes.json")
    (tmp_path / PATH).parent.mkdir(parents=True)
    (tmp_path / PATH).write_text("x = a < b\n")
    noticed, alive = mutant("a < b", 4), mutant("x", 0)
    outcome = mutant_draw.Outcome(noticed, "killed")
    assert mutants_kept.kept([noticed]) == []
    mutants_kept.keep([outcome, mutant_draw.Outcome(alive, "survived")])
    assert mutants_kept.kept([noticed, alive, mutant("b", 8)]) == [outcome]
    (tmp_path / PATH).write_text("x = a < b + 0\n")
    assert mutants_kept.kept([noticed, alive]) == []


def test_a_map_holds_until_a_byte_of_code_content_or_tests_changes(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(mutants_kept, "ROOT", tmp_path)
    monkeypatch.setattr(mutants_kept, "MAPPED", tmp_path / "mapped")
    files = [tmp_path / "src" / "a.py", tmp_path / "src" / "a.toml", tmp_path / "tests" / "b.py"]
    for file in files:
        file.parent.mkdir(exist_ok=True)
        file.write_text("1")
    assert not mutants_kept.map_holds()
    for file in files:
        mutants_kept.note_map()
        assert mutants_kept.map_holds()
        file.write_text("2")
        assert not mutants_kept.map_holds()


def mutant(code: str, start: int, line: int = 1, path: str = PATH):
    """One that turns `<` into `<=` in a line of its own."""
    new = f"({code.replace('<', '<=')})"
    return mutant_draw.Mutant(path, line, start, start + len(code), code, new, f"x = {code}")


def page_of(outcomes: dict, before: str = "", draw=()) -> str:
    found = [mutant_draw.Outcome(one, state) for one, state in outcomes.items()]
    return mutants_page.page_of(mutants_page.Run(found, 9, list(draw), "How.", []), before)


def judged_page(*mutants_and_words) -> str:
    page = page_of({one: "survived" for one, _ in mutants_and_words})
    for one, words in mutants_and_words:
        page = page.replace(
            f"| {one.place} | {one.change} |  |", f"| {one.place} | {one.change} | {words} |"
        )
    return page


def test_judgements_outlive_a_run_and_moved_lines() -> None:
    here, there = mutant("a < b", 10), mutant("c | d", 90)
    page = judged_page((here, "the same at a whole day"), (there, "to test"))
    assert "0 were noticed (0.0%)" in page
    assert "Of the 2 survivors 0 are judged below." in page
    moved = mutant("a < b", 12, line=4)
    again = page_of({moved: "survived"}, page, draw=[moved, there])
    row = f"| `{PLACE}:4` | `x = a < b` | `a < b` → `(a <= b)` | the same at a whole day |"
    assert row in again
    assert "Of the 1 survivors 1 are judged below." in again
    assert again.count("to test") == 1, "a shorter run says nothing of it"
    assert "to test" not in page_of({moved: "survived"}, page, draw=[moved])


def test_a_judgement_goes_when_a_test_notices() -> None:
    here = mutant("a < b", 10)
    noticed = page_of({here: "killed"}, judged_page((here, "whole day")), draw=[here])
    assert "whole day" not in noticed
    assert "**1 were noticed (100.0%)**" in noticed


def test_the_same_change_in_another_line_has_a_judgement_of_its_own() -> None:
    here = mutant("0 < n", 10)
    elsewhere = dataclasses.replace(here, start=50, code="y = 0 < n")
    page = page_of({elsewhere: "survived"}, judged_page((here, "no such day")))
    assert "no such day" not in page
