"""Do the tests notice a small fault? `make mutants`, or `python -m tools.mutants [N]`.

Draws N small changes (500 unless asked for another number; a fixed draw) of the code that computes and judges,
makes each in a copy of the checkout, runs the tests that import the changed module, nearest first,
until one fails, and writes docs/validation/mutants.md. A mutant that no test notices survived; its
judgement in that page is a person's and is carried over to the next run.

Why no library: mutmut 3 picks tests by a run of the whole suite and forks its workers from a
process that has imported everything, and mutates whole source trees; cosmic-ray runs one test
command for every mutant. Here a random sample of a fixed size, the nearest tests first and a page
that keeps judgements are the point, and Python's own ast does the rest.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from xml.etree import ElementTree as ET

from rich.progress import Progress

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("src/suffice/clinical", "src/suffice/assess")
PAGE = ROOT / "docs" / "validation" / "mutants.md"
KINDS = ("unit", "property", "oracle", "spec")
SEED = 20261128
PROCESSES = 2
WRITTEN_EVERY = 20
"""Mutants from one writing of the page to the next: a run that is stopped leaves what it found."""
PATIENCE_S = 30.0
"""Processor time beside four times what the same tests take without a change: after that they count
as not ending."""

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COMPUTED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.Pow: ast.Mult,
}  # fmt: skip
JOINED: dict[type[ast.boolop], type[ast.boolop]] = {ast.And: ast.Or, ast.Or: ast.And}


@dataclass(frozen=True)
class Mutant:
    """One change: `old` at `start` to `end` (offsets in bytes) of a file becomes `new`."""

    path: str
    line: int
    start: int
    end: int
    old: str
    new: str

    @property
    def change(self) -> str:
        return f"`{_short(self.old)}` → `{_short(self.new)}`"


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant: killed, survived, timeout (counts as killed) or untested."""

    mutant: Mutant
    state: str


def _short(code: str) -> str:
    words = " ".join(code.split()).replace("|", "\\|")
    return words if len(words) <= 70 else f"{words[:34]} … {words[-34:]}"


def _replacements(node: ast.AST) -> Iterator[tuple[ast.expr, str]]:
    """Which expression becomes what, for each change that this node allows."""
    if isinstance(node, ast.Compare):
        for n, operator in enumerate(node.ops):
            changed = [*node.ops[:n], COMPARED[type(operator)](), *node.ops[n + 1 :]]
            yield node, ast.unparse(ast.Compare(node.left, changed, node.comparators))
    elif isinstance(node, ast.BinOp) and type(node.op) in COMPUTED:
        yield node, ast.unparse(ast.BinOp(node.left, COMPUTED[type(node.op)](), node.right))
    elif isinstance(node, ast.BoolOp):
        yield node, ast.unparse(ast.BoolOp(JOINED[type(node.op)](), node.values))
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        for step in (1, -1):
            yield node, repr(node.value + step)
    elif isinstance(node, ast.Return) and node.value is not None:
        if not (isinstance(node.value, ast.Constant) and node.value.value is None):
            yield node.value, "None"
    elif isinstance(node, ast.If | ast.While | ast.IfExp):
        yield node.test, f"not ({ast.unparse(node.test)})"


def _running(tree: ast.AST) -> Iterator[ast.AST]:
    """The nodes of what runs: no annotations, and no branch that only a type checker reads."""
    yield tree
    for name, value in ast.iter_fields(tree):
        if name in {"annotation", "returns", "type_params"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield from _running(child)


def mutants_of(path: str, source: bytes) -> list[Mutant]:
    """Every mutant of one file, in the order of its lines."""
    begins = [0]
    for line in source.splitlines(keepends=True):
        begins.append(begins[-1] + len(line))
    found = []
    for node in _running(ast.parse(source)):
        for place, new in _replacements(node):
            start = begins[place.lineno - 1] + place.col_offset
            end = begins[(place.end_lineno or 0) - 1] + (place.end_col_offset or 0)
            old = source[start:end].decode()
            found.append(Mutant(path, place.lineno, start, end, old, f"({new})"))
    return sorted(found, key=lambda m: (m.start, m.end, m.new))


def mutated(source: bytes, mutant: Mutant) -> bytes:
    return source[: mutant.start] + mutant.new.encode() + source[mutant.end :]


def possible() -> list[Mutant]:
    """Every mutant of the rooms."""
    return [
        mutant
        for room in ROOMS
        for path in sorted((ROOT / room).rglob("*.py"))
        for mutant in mutants_of(path.relative_to(ROOT).as_posix(), path.read_bytes())
    ]


def compiles(source: bytes) -> bool:
    try:
        compile(source, "mutant", "exec")
    except SyntaxError:
        return False
    return True


def drawn(every: list[Mutant], count: int) -> list[Mutant]:
    """The sample; a larger one of the same code begins with the smaller one.

    Each change has its own place in the draw, by what it changes and not by where it stands, so
    that the sample of tomorrow's code is today's but for the lines that were written since. A change
    that is no Python is passed over: every test would notice it.
    """
    times: Counter[tuple[str, str, str]] = Counter()
    placed: list[tuple[str, Mutant]] = []
    for mutant in every:
        what = (mutant.path, mutant.old, mutant.new)
        times[what] += 1
        key = "\0".join((str(SEED), *what, str(times[what])))
        placed.append((hashlib.sha256(key.encode()).hexdigest(), mutant))
    found: list[Mutant] = []
    for _, mutant in sorted(placed, key=lambda one: one[0]):
        if len(found) == count:
            break
        if compiles(mutated((ROOT / mutant.path).read_bytes(), mutant)):
            found.append(mutant)
    return found


def modules_imported(source: str) -> set[str]:
    """Modules of the package that this source imports; `from a import b` may mean a or a.b."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return {name for name in found if name.startswith("suffice.")}


def module_name(path: str) -> str:
    return path.removeprefix("src/").removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def imports_of_the_package() -> dict[str, set[str]]:
    return {
        module_name(path.relative_to(ROOT).as_posix()): modules_imported(path.read_text("utf-8"))
        for path in (ROOT / "src").rglob("*.py")
    }


def tests_near(path: str, imports: dict[str, set[str]]) -> list[list[str]]:
    """Test files in groups, nearest first: same path; import it, or else what imports it."""
    module = module_name(path)
    above = {name for name, imported in imports.items() if module in imported}
    inner = path.removeprefix("src/suffice/")
    same = f"tests/unit/{Path(inner).parent.as_posix()}/test_{Path(inner).name}"
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


def judged(
    copy: Runner, mutant: Mutant, groups: list[list[str]], took_s: dict[str, float]
) -> Outcome:
    """Make the change in the copy, run the tests, take the change back."""
    file = copy.folder / mutant.path
    source = file.read_bytes()
    file.write_bytes(mutated(source, mutant))
    try:
        for tests in groups:
            limit_s = PATIENCE_S + 4 * sum(took_s[test] for test in tests)
            found = copy.run(tests, limit_s, "-x")
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


def unchanged(copy: Runner, files: list[str]) -> tuple[dict[str, float], list[str]]:
    """Seconds that each test file takes without a change, and the files that fail even so.

    With those every mutant would look noticed, so they are left out.
    """
    report = copy.folder / "report.xml"
    copy.run(
        files,
        None,
        f"--junitxml={report}",
        "-o",
        "junit_family=xunit1",
        "--continue-on-collection-errors",
    )
    took_s = dict.fromkeys(files, 0.0)
    broken = set()
    seen = set()
    for case in ET.parse(report).iter("testcase"):
        file = case.get("file") or case.get("classname", "").replace(".", "/") + ".py"
        seen.add(file)
        took_s[file] = took_s.get(file, 0.0) + float(case.get("time", 0))
        if case.find("failure") is not None or case.find("error") is not None:
            broken.add(file)
    return took_s, sorted(broken | (set(files) - seen))


def run(sample: list[Mutant], write: Callable[[list[Outcome], list[str]], None]) -> None:
    """Run every mutant; write now and then what became of those so far, and of all at the end.

    Args:
        sample: The mutants.
        write: Takes the outcomes, and the test files left out because they fail unchanged.
    """
    imports = imports_of_the_package()
    groups = {path: tests_near(path, imports) for path in {m.path for m in sample}}
    with tempfile.TemporaryDirectory(prefix="suffice-mutants-") as place, Progress() as shown:
        runners = [Runner(copy_of_the_checkout(Path(place) / str(n))) for n in range(PROCESSES)]
        free: SimpleQueue[Runner] = SimpleQueue()
        for runner in runners:
            free.put(runner)
        copy = free.get()
        files = {test for found in groups.values() for group in found for test in group}
        took_s, left_out = unchanged(copy, sorted(files))
        shown.print(f"{len(files)} test files, {sum(took_s.values()):.0f} s without a change")
        free.put(copy)
        kept = {
            path: [rest for group in found if (rest := [t for t in group if t not in left_out])]
            for path, found in groups.items()
        }
        task = shown.add_task("mutants", total=len(sample))

        def one(mutant: Mutant) -> Outcome:
            own = free.get()
            try:
                return judged(own, mutant, kept[mutant.path], took_s)
            finally:
                free.put(own)

        with ThreadPoolExecutor(PROCESSES) as pool:
            outcomes: list[Outcome] = []
            for future in as_completed([pool.submit(one, mutant) for mutant in sample]):
                outcomes.append(future.result())
                shown.advance(task)
                if len(outcomes) % WRITTEN_EVERY == 0 or len(outcomes) == len(sample):
                    write(outcomes, left_out)
        for runner in runners:
            runner.close()


ROW = re.compile(r"^\| `(?P<path>[^`]+):\d+` \| (?P<change>.+) \| (?P<judgement>[^|]*) \|$")
Key = tuple[str, str]
"""File and change: line numbers move."""


def key_of(mutant: Mutant) -> Key:
    return mutant.path.removeprefix("src/suffice/"), mutant.change


def judgements(page: str) -> dict[Key, str]:
    """What was written beside survivors."""
    rows = filter(None, map(ROW.match, page.splitlines()))
    found = {(row["path"], row["change"]): row["judgement"].strip() for row in rows}
    return {key: judgement for key, judgement in found.items() if judgement}


def page_of(outcomes: list[Outcome], every: list[Mutant], left_out: list[str], before: str) -> str:
    """docs/validation/mutants.md, the judgements of the page before carried over."""
    kept = judgements(before)
    total = Counter(o.mutant.path for o in outcomes)
    noticed = Counter(o.mutant.path for o in outcomes if o.state in {"killed", "timeout"})
    killed, count = noticed.total(), len(outcomes)
    lines = [
        "# Validation: mutants",
        "",
        "Small faults put into the code that computes and judges, one at a time: does a test notice?",
        (
            f"Of {len(every)} possible changes {count} were drawn (seed {SEED}) and run; "
            f"**{killed} were noticed ({killed / max(count, 1):.0%})**,"
        ),
        (
            f"{sum(o.state == 'timeout' for o in outcomes)} of them because the tests no longer ended. "
            "`make mutants` writes this page; it keeps the judgements."
        ),
        (
            "Only tests that import the changed module are run (where there are none: those that import a "
            "module that does), so a test"
        ),
        "further away may notice a survivor.",
        "",
    ]
    if left_out:
        lines += ["Left out, because they fail without any change: " + ", ".join(left_out), ""]
    lines += ["| module | run | noticed | share |", "|---|---:|---:|---:|"]
    lines += [
        f"| {path.removeprefix('src/suffice/')} | {n} | {noticed[path]} | {noticed[path] / n:.0%} |"
        for path, n in sorted(total.items())
    ]
    lines += ["", "## Survivors", "", "| where | change | judgement |", "|---|---|---|"]
    ran = {key_of(o.mutant) for o in outcomes}
    alive = [o.mutant for o in outcomes if o.state in {"survived", "untested"}]
    # A judged survivor that this sample leaves out is still true while its code stands.
    earlier = {key_of(m): m for m in every if key_of(m) in kept and key_of(m) not in ran}
    for mutant in sorted([*alive, *earlier.values()], key=lambda m: (m.path, m.start, m.new)):
        place, change = key_of(mutant)
        words = kept.get((place, change), "")
        lines.append(f"| `{place}:{mutant.line}` | {change} | {words} |")
    return "\n".join(lines) + "\n"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tools.mutants")
    parser.add_argument("count", nargs="?", type=int, default=500, help="how many mutants to run")
    every = possible()
    before = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""

    def write(outcomes: list[Outcome], left_out: list[str]) -> None:
        PAGE.write_text(page_of(outcomes, every, left_out, before), encoding="utf-8")
        print(len(outcomes), Counter(outcome.state for outcome in outcomes), flush=True)

    run(drawn(every, parser.parse_args().count), write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
