"""Do the tests notice a small fault? `make mutants`, or `python -m tools.mutants [N]`.

Draws N small changes (500 unless asked for another number; a fixed draw) of the code that computes and judges,
makes each in a copy of the checkout, runs the tests that run the changed line, nearest and quickest
first, until one fails, and writes docs/validation/mutants.md. A mutant that no test notices survived; its
judgement in that page is a person's and is carried over to the next run. `--resume` goes on where a
run was stopped and asks survivors again, `--processes 1` leaves a core to others.

Why no library: mutmut 3 picks tests by a run of the whole suite and forks its workers from a
process that has imported everything, and mutates whole source trees; cosmic-ray runs one test
command for every mutant. Here a random sample of a fixed size, the nearest tests first and a page
that keeps judgements are the point, and Python's own ast does the rest.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor, as_completed
from functools import cache
from pathlib import Path
from queue import SimpleQueue

import pytest
from coverage import CoverageData
from rich.progress import Progress

from tools import mutants_kept
from tools.mutant_draw import ROOT, Mutant, Outcome, drawn, mutated, possible, statement_lines
from tools.mutants_page import Run, page_of
from tools.tests_of_lines import LINES, SECONDS

COMPUTING = ("clinical", "assess", "plan", "inference", "knowledge")
"""Rooms whose unit tests are run; those of pages, commands and the record are not."""
PAGE = ROOT / "docs" / "validation" / "mutants.md"
KINDS = ("unit", "property", "oracle", "spec")
DRAW = 500
PROCESSES = 2
WRITTEN_EVERY = 20
"""Mutants from one writing of the page to the next: a run that is stopped leaves what it found."""
PATIENCE_S = 30.0
"""Processor time beside four times what the same tests take without a change: after that they count
as not ending."""
MOST_S = 40.0
"""Of the tests that run a changed line the quickest are run, as many as take this long together."""


@cache
def modules_imported(source: str) -> frozenset[str]:
    """Modules of the package that this source imports; `from a import b` may mean a or a.b."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return frozenset(name for name in found if name.startswith("suffice."))


def module_name(path: str) -> str:
    return path.removeprefix("src/").removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def imports_of_the_package() -> dict[str, frozenset[str]]:
    return {
        module_name(path.relative_to(ROOT).as_posix()): modules_imported(path.read_text("utf-8"))
        for path in (ROOT / "src").rglob("*.py")
    }


class Reach:
    """Which tests run which line, as the unchanged code has shown.

    Attributes:
        took_s: Processor time of each test that passes, by its id.
        left_out: Tests that fail without any change: with them every mutant would look noticed.
    """

    def __init__(self, lines: Path, seconds: Path) -> None:
        noted = json.loads(seconds.read_text(encoding="utf-8"))
        self.took_s: dict[str, float] = noted["passed"]
        self.left_out: list[str] = noted["failed"]
        self._data = CoverageData(str(lines))
        self._data.read()
        self._of_file: dict[str, dict[int, set[str]]] = {}

    def _contexts(self, path: str) -> dict[int, set[str]]:
        if path not in self._of_file:
            found = self._data.contexts_by_lineno(str(ROOT / path))
            self._of_file[path] = {line: set(tests) for line, tests in found.items()}
        return self._of_file[path]

    def tests(self, mutant: Mutant, imports: Mapping[str, Collection[str]]) -> list[list[str]]:
        """The tests of a mutant in groups, nearest first.

        First those of the test file of the same name that run the line, then the quickest of all
        others that do. A line that runs only when its module is imported, as a table of constants
        does, gets the files that import the module.
        """
        by_line = self._contexts(mutant.path)
        lines = statement_lines((ROOT / mutant.path).read_bytes(), mutant)
        reaching = {test for line in lines for test in by_line.get(line, ())}
        known = [test for test in reaching if test in self.took_s]
        if not known:
            return self._near(mutant.path, imports)
        own = f"{own_test_file(mutant.path)}::"
        known.sort(key=lambda test: (self.took_s[test], test))
        near = self._within(MOST_S, [test for test in known if test.startswith(own)])
        rest = self._within(MOST_S, [test for test in known if not test.startswith(own)])
        return [group for group in (near, rest) if group]

    def _near(self, path: str, imports: Mapping[str, Collection[str]]) -> list[list[str]]:
        broken = {test.partition("::")[0] for test in self.left_out}
        groups = [
            [file for file in group if file not in broken] for group in tests_near(path, imports)
        ]
        return [group for group in groups if group]

    def _within(self, most_s: float, tests: list[str]) -> list[str]:
        found: list[str] = []
        sum_s = 0.0
        for test in tests:
            if found and sum_s + self.took_s[test] > most_s:
                break
            found.append(test)
            sum_s += self.took_s[test]
        return found

    def limit_s(self, tests: list[str]) -> float:
        """Processor time after which tests, or whole files of tests, count as not ending."""
        files = {test for test in tests if "::" not in test}
        whole = [s for test, s in self.took_s.items() if test.partition("::")[0] in files]
        return PATIENCE_S + 4 * (sum(self.took_s.get(test, 0.0) for test in tests) + sum(whole))


def own_test_file(path: str) -> str:
    """The test file of the same name."""
    inner = path.removeprefix("src/suffice/")
    return f"tests/unit/{Path(inner).parent.as_posix()}/test_{Path(inner).name}"


def tests_near(path: str, imports: Mapping[str, Collection[str]]) -> list[list[str]]:
    """Test files in groups, nearest first: same path; import it, or else what imports it."""
    module = module_name(path)
    above = {name for name, imported in imports.items() if module in imported}
    same = own_test_file(path)
    direct, indirect = [], []  # further away: only where no test imports the module itself
    for kind in KINDS:
        for test in sorted((ROOT / "tests" / kind).rglob("test_*.py")):
            place = test.relative_to(ROOT).as_posix()
            imported = modules_imported(test.read_text("utf-8"))
            if place == same:
                continue
            if module in imported:
                direct.append(place)
            elif above & imported:
                indirect.append(place)
    first = [same] if (ROOT / same).exists() else []
    return [group for group in (first, direct or indirect) if group]


class Runner:
    """A folder with a copy of the checkout, and the process that runs its tests."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # The environment's editable install points at the checkout; the copy has to come first.
        paths = os.pathsep.join((str(folder / "src"), str(folder / "tests")))
        env = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
        command = ["nice", "-n", "19", sys.executable, str(ROOT / "tools" / "test_server.py")]
        self._server = subprocess.Popen(
            command, cwd=folder, env=env, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )

    def run(self, tests: list[str], cpu_s: float | None, *options: str) -> str:
        """`passed`, `failed` or `timeout`."""
        asked = {"tests": tests, "options": options, "cpu_s": cpu_s}
        assert self._server.stdin
        assert self._server.stdout
        self._server.stdin.write(json.dumps(asked) + "\n")
        self._server.stdin.flush()
        return self._server.stdout.readline().strip()

    def close(self) -> None:
        self._server.communicate()


def judged(copy: Runner, mutant: Mutant, groups: list[list[str]], reach: Reach) -> Outcome:
    """Make the change in the copy, run the tests, take the change back."""
    file = copy.folder / mutant.path
    source = file.read_bytes()
    file.write_bytes(mutated(source, mutant))
    try:
        for tests in groups:
            found = copy.run(tests, reach.limit_s(tests), "-x")
            if found != "passed":
                return Outcome(mutant, "killed" if found == "failed" else "timeout")
    finally:
        file.write_bytes(source)
    return Outcome(mutant, "survived" if groups else "untested")


def copy_of_the_checkout(folder: Path) -> Path:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    for name in filter(None, listed.stdout.split("\0")):
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, folder / name)
    return folder


def reach_of_the_tests() -> Reach:
    """Run all tests of the rooms once without a change, and keep which lines each of them runs.

    A map that a run before made of the very same code and tests is taken as it is.
    """
    if mutants_kept.map_holds():
        return Reach(ROOT / LINES, ROOT / SECONDS)
    LINES.parent.mkdir(parents=True, exist_ok=True)
    kinds = [f"tests/{kind}" for kind in KINDS]
    of_rooms = [f"tests/unit/{room}" for room in COMPUTING]
    asked = [*of_rooms, *(kind for kind in kinds if kind != "tests/unit")]
    measure = [sys.executable, "-m", "coverage", "run", f"--data-file={LINES}"]
    tests = ["-m", "pytest", "-q", "--no-header", "-p", "tools.tests_of_lines", *asked]
    ended = subprocess.run([*measure, *tests], cwd=ROOT, check=False).returncode
    if ended not in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED}:
        raise SystemExit(
            "The tests did not come to their end, so which lines they run is not known."
        )
    mutants_kept.note_map()
    return Reach(ROOT / LINES, ROOT / SECONDS)


def run(
    sample: list[Mutant],
    known: list[Outcome],
    processes: int,
    write: Callable[[list[Outcome], list[str]], None],
) -> None:
    """Run every mutant; write now and then what became of those so far, and of all at the end.

    Args:
        sample: The mutants.
        known: What became of some of them in a run before: these are not run again.
        processes: How many run at the same time.
        write: Takes the outcomes, and the tests left out because they fail unchanged.
    """
    imports = imports_of_the_package()
    reach = reach_of_the_tests()
    before = {outcome.mutant for outcome in known}
    asked = [mutant for mutant in sample if mutant not in before]
    outcomes = list(known)
    with tempfile.TemporaryDirectory(prefix="suffice-mutants-") as place, Progress() as shown:
        runners = [Runner(copy_of_the_checkout(Path(place) / str(n))) for n in range(processes)]
        free: SimpleQueue[Runner] = SimpleQueue()
        for runner in runners:
            free.put(runner)
        shown.print(f"{len(reach.took_s)} tests, {sum(reach.took_s.values()):.0f} s")
        task = shown.add_task("mutants", total=len(asked))

        def one(mutant: Mutant) -> Outcome:
            own = free.get()
            try:
                return judged(own, mutant, reach.tests(mutant, imports), reach)
            finally:
                free.put(own)

        with ThreadPoolExecutor(processes) as pool:
            for future in as_completed([pool.submit(one, mutant) for mutant in asked]):
                outcomes.append(future.result())
                shown.advance(task)
                if len(outcomes) % WRITTEN_EVERY == 0:
                    write(outcomes, reach.left_out)
        write(outcomes, reach.left_out)
        for runner in runners:
            runner.close()


CHOICE = (
    f"Run are those tests of {', '.join(KINDS)} that run the changed line, the quickest first, up to "
    f"{MOST_S:.0f} s of them, so a\nslower test may notice a survivor."
)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tools.mutants")
    parser.add_argument("count", nargs="?", type=int, default=DRAW, help="how many mutants to run")
    parser.add_argument("--resume", action="store_true", help="keep what the last run noticed")
    parser.add_argument("--processes", type=int, default=PROCESSES, help="run side by side")
    asked = parser.parse_args()
    every = possible()
    draw = drawn(every, max(asked.count, DRAW))
    sample = draw[: asked.count]
    before = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""

    def write(outcomes: list[Outcome], left_out: list[str]) -> None:
        found = Run(outcomes, len(every), draw, CHOICE, left_out)
        PAGE.write_text(page_of(found, before), encoding="utf-8")
        mutants_kept.keep(outcomes)
        print(len(outcomes), Counter(outcome.state for outcome in outcomes), flush=True)

    run(sample, mutants_kept.kept(sample) if asked.resume else [], asked.processes, write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
