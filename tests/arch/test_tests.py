"""Each module of the rooms that compute has tests of its own name; no test asks how long it takes."""

from __future__ import annotations

import ast
from pathlib import Path

from arch.source_tree import ROOT, modules

ROOMS = ("clinical", "assess", "plan", "inference", "knowledge")


def named(module: str) -> str:
    """The dotted name of a module, from its path below the package: `plan/need.py`."""
    return "suffice." + module.removesuffix(".py").replace("/", ".")


def place_of_tests(module: str) -> str:
    """Where the tests of a module belong, from the checkout's root."""
    path = Path(module)
    return (Path("tests/unit") / path.parent / f"test_{path.name}").as_posix()


def imported(tree: ast.AST) -> set[str]:
    """Every dotted name that a file imports, a module or what stands in one."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def holds_a_test(tree: ast.Module) -> bool:
    """Whether pytest would collect something: a test function, alone or in a test class."""
    bodies = [tree.body]
    bodies += [n.body for n in tree.body if isinstance(n, ast.ClassDef) and n.name[:4] == "Test"]
    return any(
        isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        for body in bodies
        for node in body
    )


def fault_of(module: str, test: ast.Module | None) -> str | None:
    """What is wrong with the tests of a module, or None."""
    if test is None:
        return f"{module}: no {place_of_tests(module)}"
    if not holds_a_test(test):
        return f"{module}: no test function in {place_of_tests(module)}"
    if named(module) not in imported(test):
        return f"{module}: {place_of_tests(module)} does not import it"
    return None


def of_rooms() -> list[str]:
    """Paths below the package of the modules asked about; a package's own file is none."""
    paths = [m.path.removeprefix("src/suffice/") for m in modules("src/suffice")]
    return [p for p in paths if p.split("/")[0] in ROOMS and not p.endswith("__init__.py")]


def parsed(place: str) -> ast.Module | None:
    path = ROOT / place
    return ast.parse(path.read_text(encoding="utf-8")) if path.exists() else None


def test_every_module_of_the_rooms_has_its_tests() -> None:
    asked = of_rooms()
    assert {m.split("/")[0] for m in asked} == set(ROOMS), "a room is somewhere else"
    faults = [fault for m in asked if (fault := fault_of(m, parsed(place_of_tests(m))))]
    assert not faults, "Each module of these rooms has tests of its own:\n" + "\n".join(faults)


def test_each_fault_is_found() -> None:
    good = "from suffice.plan.need import x\ndef test_x(): ..."
    assert fault_of("plan/need.py", ast.parse(good)) is None
    assert fault_of("plan/need.py", ast.parse("from suffice.plan import need\n" + good)) is None
    assert fault_of("plan/need.py", None) == "plan/need.py: no tests/unit/plan/test_need.py"
    idle = fault_of("plan/need.py", ast.parse("from suffice.plan.need import x"))
    assert idle == "plan/need.py: no test function in tests/unit/plan/test_need.py"
    foreign = fault_of("plan/need.py", ast.parse("import suffice.plan\ndef test_x(): ..."))
    assert foreign == "plan/need.py: tests/unit/plan/test_need.py does not import it"


CLOCKS = frozenset(
    f"{name}{unit}"
    for name in ("perf_counter", "monotonic", "process_time", "thread_time", "default_timer")
    for unit in ("", "_ns")
)
PATIENT = "tests/patience.py"
"""The one file of the tests that may look how long something takes: it tells a hang."""


def clocks_of(tree: ast.AST) -> set[str]:
    """The clocks that a file reads to see how long something takes."""
    read = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return CLOCKS & (read | {name.rpartition(".")[2] for name in imported(tree)})


def test_no_test_asks_how_long_something_takes() -> None:
    timed = {m.path: clocks_of(m.tree) for m in modules("tests")}
    assert timed.pop(PATIENT), "it moved: name the new place"
    assert {path: clocks for path, clocks in timed.items() if clocks} == {}


def test_a_clock_is_found_however_it_is_read() -> None:
    assert clocks_of(ast.parse("import time\nt = time.perf_counter()")) == {"perf_counter"}
    assert clocks_of(ast.parse("from time import monotonic_ns")) == {"monotonic_ns"}
    assert clocks_of(ast.parse("from timeit import default_timer as now")) == {"default_timer"}
    assert clocks_of(ast.parse("import time\ntime.sleep(1)\nage = time.time()")) == set()
