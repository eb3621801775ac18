"""No clinical number stands in Python: values live in the content store with their sources.

Free everywhere: -1, 0, 1, 2, 100, one half, floors that keep a quotient or a logarithm finite
(below 1e-5), positions and sizes (subscripts, slices, exponents, range, the digits of round,
the size of a cache, the length of a text), and exact conversions where something is multiplied or divided by them.

Outside the clinical core a module-level constant in CAPITALS, or a member of an enumeration, may
hold another number if it is not clinical: a tolerance, a number of draws, a size. One whose name
ends in a unit must be explained, in a docstring or a comment. In the clinical core even that is
declared below. Anything else is declared here with its reason, or moves to the content store.
The invented families of the demo are data, not rules, and are not scanned.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

from arch.source_tree import Module, modules
from suffice.knowledge.store import load

ROOMS = (
    "src/suffice/clinical",
    "src/suffice/inference",
    "src/suffice/assess",
    "src/suffice/plan",
    "src/suffice/care",
)
FREE = {-1, 0, 1, 2, 100, 0.5}
FLOOR = 1e-5
EXACT = {
    7: "days in a week",
    10: "millimetres in a centimetre",
    12: "the variance of a rounded value is its step squared over 12",
    24: "hours in a day",
    60: "seconds in a minute, minutes in an hour",
    1000: "grams in a kilogram",
    3600: "seconds in an hour",
    3_600_000_000: "microseconds in an hour",
}
INVENTED = "src/suffice/care/demo/"
UNIT_WORDS = {end.upper() for unit in load().units.values() for end in unit.endings} - {
    "LOG",
    "Z",
    "COUNT",
}
UNITS_MODULE = "src/suffice/clinical/units.py"

DECLARED: dict[str, dict[float, str]] = {
    "src/suffice/care/clinic/factor.py": {30: "seconds of a time step, as RFC 6238 has it"},
    "src/suffice/care/uploads.py": {
        0o600: "mode of a file that only its owner reads",
        0o700: "mode of a folder that only its owner enters",
    },
    "src/suffice/clinical/age.py": {12: "months in a year"},
    "src/suffice/clinical/entry/answer.py": {500: "characters of an answer"},
    "src/suffice/clinical/entry/feed.py": {
        99: "what a form takes; how many can be is asked of the content",
    },
    "src/suffice/clinical/entry/field.py": {80: "characters of the code of a flag"},
    "src/suffice/clinical/entry/handover.py": {
        120: "characters of a name",
        500: "characters of what was asked",
    },
    "src/suffice/clinical/entry/known.py": {120: "characters of a name"},
    "src/suffice/clinical/entry/birth.py": {
        8: "what a form takes; how many can be is asked of the content",
    },
    "src/suffice/clinical/entry/telephone.py": {
        5: "digits of the shortest number, of a ward's own exchange",
        15: "digits of the longest number, as ITU-T E.164 has it",
        40: "characters of a number with what sets its groups apart",
        120: "characters of when to call",
    },
    "src/suffice/clinical/entry/output.py": {
        0.5: "what a form takes; how many can be is asked of the content",
        168: "what a form takes: a week",
        999: "what a form takes; how many can be is asked of the content",
    },
    "src/suffice/clinical/entry/watched_feed.py": {10: "top of the scale of 0 to 10"},
    "src/suffice/clinical/production.py": {
        0.8: "the level of the interval that is given",
        12: "SD of what is rounded to a step: the step / sqrt(12)",
    },
    "src/suffice/clinical/production_mark.py": {
        0.8: "the level of the interval that is given",
        5: "parameters of the curve",
        6: "SD beyond which a mixture has nothing",
        12: "draws, as a power of two",
        40: "halvings until an interval is nothing",
        20261129: "where the draws begin",
    },
    "src/suffice/clinical/latch/geometry.py": {
        6: "digits to which marks are rounded once the picture is straight",
    },
    "src/suffice/clinical/reading/candidate.py": {
        15: "digits from which a number is shown as a power of ten",
        60: "characters of a text that a message repeats",
    },
    "src/suffice/clinical/reading/numeral.py": {
        100: "characters of the longest text read as a value"
    },
    "src/suffice/clinical/reading/hours.py": {12: "hours after which a 12-hour clock begins again"},
    "src/suffice/clinical/growth/centile_fall.py": {9: "rounds away binary dust"},
    "src/suffice/clinical/growth/gain_line.py": {9: "rounds away binary dust"},
    "src/suffice/clinical/growth/who.py": {
        9: "rounds away binary dust",
        13: "rows scored at a time, a power of two",
    },
    "src/suffice/assess/engine/answers.py": {
        0.1: "quantile level of the 80 % interval",
        0.9: "quantile level of the 80 % interval",
    },
    "src/suffice/plan/need.py": {0.8: "the level of the interval that is taken"},
    "src/suffice/inference/growth/blend.py": {
        0.1: "quantile level of the 80 % interval",
        0.9: "quantile level of the 80 % interval",
    },
    "src/suffice/inference/growth/forecast.py": {50: "keeps an exponential finite"},
    "src/suffice/inference/growth/prior.py": {
        3: "the square root of 3 in the Matérn covariance of order 3/2",
        4: "scores beyond are slips of the pen; keeps the prior finite",
    },
    "src/suffice/inference/infant/model.py": {
        0.1: "floor that keeps a logarithm finite",
    },
    "src/suffice/inference/infant/scrutiny.py": {
        0.25: "floor of a spread, so that a quotient stays finite",
        3: "three SD: the usual bound of what noise explains",
    },
    "src/suffice/clinical/structure.py": {
        1900: "earliest instant that is stored",
        2200: "latest instant that is stored",
        53: "largest whole number that every reader of JSON keeps",
    },
}
"""Path to literal to the reason why it is not clinical."""


def numbers(module: Module) -> Iterator[ast.Constant]:
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Constant) and type(node.value) in {int, float, complex}:
            yield node


def is_place_or_size(node: ast.AST, module: Module) -> bool:
    """Whether a number is a position, a size, an exponent or a count of digits."""
    above = module.above(node)
    for child, parent in zip([node, *above], above, strict=False):
        if isinstance(parent, ast.Subscript) and child is parent.slice:
            return True
        if isinstance(parent, ast.BinOp) and isinstance(parent.op, ast.Pow):
            return child is parent.right
        if isinstance(parent, ast.keyword):
            return parent.arg in {"maxsize", "axis", "decimals", "ndigits", "longest_characters"}
        if isinstance(parent, ast.Call):
            named = getattr(parent.func, "id", getattr(parent.func, "attr", ""))
            if named == "range" or (named == "round" and child is not parent.args[0]):
                return True
            if named in {"reshape", "empty", "zeros", "ones", "hermegauss"}:
                return True
        if isinstance(parent, ast.stmt):
            return False
    return False


def is_conversion(node: ast.Constant, module: Module) -> bool:
    """Whether a number is an exact conversion, by which something is multiplied or divided."""
    parent = module.parents[node]
    return (
        isinstance(parent, ast.BinOp)
        and isinstance(parent.op, ast.Mult | ast.Div | ast.FloorDiv | ast.Mod)
        and node.value in EXACT
    )


def named_constant(node: ast.AST, module: Module) -> tuple[ast.stmt, list[str]] | None:
    """The assignment to names in CAPITALS that a number stands in, and the names."""
    for statement, outer in zip([node, *module.above(node)], module.above(node), strict=False):
        if isinstance(statement, ast.Assign | ast.AnnAssign):
            targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
            inner = [n for target in targets for n in ast.walk(target) if isinstance(n, ast.Name)]
            names = [name.id for name in inner]
            in_place = isinstance(outer, ast.Module) or is_enumeration(outer)
            capitals = bool(names) and all(name == name.upper() for name in names)
            return (statement, names) if in_place and capitals else None
    return None


def is_enumeration(node: ast.AST) -> bool:
    bases = node.bases if isinstance(node, ast.ClassDef) else []
    return any(getattr(base, "id", "").endswith("Enum") for base in bases)


def names_a_unit(name: str) -> bool:
    return any(f"_{name}".endswith(f"_{word}") for word in UNIT_WORDS)


def is_explained(statement: ast.stmt, module: Module) -> bool:
    """Whether a docstring follows, or a comment stands on the statement's lines or just above."""
    siblings = getattr(module.parents[statement], "body", [])
    after = siblings[siblings.index(statement) + 1 :][:1]
    if after and isinstance(after[0], ast.Expr) and isinstance(after[0].value, ast.Constant):
        return isinstance(after[0].value.value, str)
    lines = module.text.splitlines()
    own = lines[statement.lineno - 1 : statement.end_lineno]
    above = lines[statement.lineno - 2] if statement.lineno > 1 else ""
    return any("#" in line for line in own) or above.lstrip().startswith("#")


def is_allowed(node: ast.Constant, module: Module) -> bool:
    value = node.value
    if value in FREE or (isinstance(value, float) and 0 < abs(value) < FLOOR):
        return True
    if module.path == UNITS_MODULE or value in DECLARED.get(module.path, {}):
        return True
    if is_place_or_size(node, module) or is_conversion(node, module):
        return True
    named = named_constant(node, module)
    if named is None or module.path.startswith(ROOMS[0]):
        return False
    statement, names = named
    if value in EXACT and all("_PER_" in name for name in names):
        return True
    return is_explained(statement, module) or not any(names_a_unit(name) for name in names)


def scanned() -> list[Module]:
    return [module for module in modules(*ROOMS) if not module.path.startswith(INVENTED)]


def test_no_clinical_number_stands_in_python() -> None:
    found = [
        f"{module.path}:{node.lineno}: {node.value} in: {module.line(node)}"
        for module in scanned()
        for node in numbers(module)
        if not is_allowed(node, module)
    ]
    assert not found, (
        "Move each to the content store, or, if it is no clinical value, explain the constant; in"
        " clinical/ name it in DECLARED of tests/arch/test_literals.py, with its reason:\n"
        + "\n".join(found)
    )


def test_no_declared_literal_has_gone() -> None:
    here = {module.path: {node.value for node in numbers(module)} for module in modules(*ROOMS)}
    gone = {
        path: sorted(set(declared) - here.get(path, set()))
        for path, declared in DECLARED.items()
        if set(declared) - here.get(path, set())
    }
    assert gone == {}


def test_the_scan_sees_a_clinical_literal() -> None:
    text = "def f(loss_percent):\n    return loss_percent > 7\n"
    planted = Module("src/suffice/clinical/planted.py", text)
    assert [node.value for node in numbers(planted) if not is_allowed(node, planted)] == [7]
