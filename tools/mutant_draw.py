"""Small changes of code: every one that is possible, and a fixed draw of them."""

from __future__ import annotations

import ast
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("src/suffice/clinical", "src/suffice/assess")
SEED = 20261128

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
    """One change: `old` at `start` to `end` (offsets in bytes) of a file becomes `new`.

    Attributes:
        code: The line that it stands in, without its indent.
    """

    path: str
    line: int
    start: int
    end: int
    old: str
    new: str
    code: str

    @property
    def change(self) -> str:
        return f"`{_short(self.old, 70)}` → `{_short(self.new, 70)}`"

    @property
    def place(self) -> str:
        """The line, as much of it as tells it from others."""
        return f"`{_short(self.code, 90)}`"


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant: killed, survived, timeout (counts as killed) or untested."""

    mutant: Mutant
    state: str

    @property
    def is_noticed(self) -> bool:
        return self.state in {"killed", "timeout"}


def _short(code: str, most: int) -> str:
    words = " ".join(code.split()).replace("|", "\\|")
    half = most // 2 - 1
    return words if len(words) <= most else f"{words[:half]} … {words[-half:]}"


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
    begins, lines = [0], source.splitlines(keepends=True)
    for line in lines:
        begins.append(begins[-1] + len(line))
    found = []
    for node in _running(ast.parse(source)):
        for place, new in _replacements(node):
            start = begins[place.lineno - 1] + place.col_offset
            end = begins[(place.end_lineno or 0) - 1] + (place.end_col_offset or 0)
            old = source[start:end].decode()
            code = lines[place.lineno - 1].decode().strip()
            found.append(Mutant(path, place.lineno, start, end, old, f"({new})", code))
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


def statement_lines(source: bytes, mutant: Mutant) -> range:
    """The lines of the statement that a mutant changes; of one that holds others, its head only."""
    found = range(mutant.line, mutant.line + 1)
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.stmt) or isinstance(node, ast.ClassDef):
            continue
        body = getattr(node, "body", None)
        last = body[0].lineno - 1 if body else node.end_lineno or node.lineno
        if node.lineno <= mutant.line <= max(last, node.lineno):
            found = range(node.lineno, max(last, node.lineno) + 1)
    return found
