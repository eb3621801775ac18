"""Files and functions stay small enough to be read in one go; what is larger says why."""

from __future__ import annotations

import ast

from arch.source_tree import ROOT, Module, modules

FILE_LINES = 500
BODY_LINES = 50
TEMPLATE_COLUMNS = 160
FOLDERS = ("src/suffice", "tests", "tools", "benchmarks")

LONG_FILES: dict[str, str] = {}
"""Path to the reason why the file may be longer."""

LONG_FUNCTIONS: dict[str, str] = {
    "src/suffice/cohort/rows.py::faults": "a table of faults, one row after another",
    "tools/validate/examiner.py::_courses": "the examiner's own equations, in one piece on purpose",
    "tools/validate/examiner.py::_infant": "the examiner's own equations, in one piece on purpose",
    "tools/validate/mcmc.py::_model": "one probabilistic program, which is traced whole",
    "tools/validate/report.py::_targets": "a table of targets, one row after another",
    "tools/validate/schedules.py::judge": "the scores of one schedule, one after another",
}
"""``path::function`` to the reason why its body may be longer."""

ROOMLESS = ("utils", "util", "helpers", "helper", "common", "manager", "misc", "stuff")


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef, lines: list[str]) -> int:
    """Lines of code after the docstring; not blank ones, comments, or brackets standing alone."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    if not body:
        return 0
    own = (line.strip() for line in lines[body[0].lineno - 1 : body[-1].end_lineno])
    return sum(1 for line in own if line.strip("()[]{},:") and not line.startswith("#"))


def long_functions(module: Module) -> dict[str, int]:
    lines = module.text.splitlines()
    return {
        f"{module.path}::{node.name}": count
        for node in ast.walk(module.tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (count := body_lines(node, lines)) > BODY_LINES
    }


def test_no_file_is_longer_than_it_may_be() -> None:
    long = {
        module.path: lines
        for module in modules(*FOLDERS)
        if (lines := module.text.count("\n")) > FILE_LINES
    }
    assert {path: lines for path, lines in long.items() if path not in LONG_FILES} == {}
    assert set(LONG_FILES) <= set(long), "an exemption that is no longer needed"


def test_no_function_is_longer_than_it_may_be() -> None:
    long = {name: n for module in modules(*FOLDERS) for name, n in long_functions(module).items()}
    assert {name: n for name, n in long.items() if name not in LONG_FUNCTIONS} == {}
    assert set(LONG_FUNCTIONS) <= set(long), "an exemption that is no longer needed"


def wide_lines(name: str, text: str) -> list[str]:
    return [
        f"{name}:{number}: {len(line)} characters"
        for number, line in enumerate(text.splitlines(), start=1)
        if len(line) > TEMPLATE_COLUMNS
    ]


def test_a_template_line_can_be_read_in_a_diff() -> None:
    templates = sorted((ROOT / "src/suffice").rglob("*.html"))
    assert len(templates) > 30, "the templates are somewhere else"
    found = [
        wide
        for path in templates
        for wide in wide_lines(str(path.relative_to(ROOT)), path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_a_wide_template_line_is_found() -> None:
    just, over = "x" * TEMPLATE_COLUMNS, "x" * (TEMPLATE_COLUMNS + 1)
    assert wide_lines("t", f"{just}\n{over}\n") == ["t:2: 161 characters"]


def test_pages_name_the_type_of_what_they_use() -> None:
    """`Request` of web/shown/page.py says what a request carries; nothing is hung on it unseen."""
    unseen = [
        f"{module.path}:{number}"
        for module in modules("src/suffice/web")
        for number, line in enumerate(module.text.splitlines(), start=1)
        if "type: ignore" in line and "attr-defined" in line
    ]
    assert unseen == []


def test_no_module_is_called_after_nothing() -> None:
    nameless = [
        module.path
        for module in modules("src/suffice")
        if any(part.removesuffix(".py") in ROOMLESS for part in module.path.split("/"))
    ]
    assert nameless == []


def test_every_module_says_what_it_holds() -> None:
    silent = [
        m.path for m in modules("src/suffice") if m.tree.body and not ast.get_docstring(m.tree)
    ]
    assert silent == []


def test_production_code_asserts_nothing() -> None:
    asserting = [
        f"{module.path}:{node.lineno}"
        for module in modules("src/suffice")
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Assert)
    ]
    assert asserting == []
