"""The name of a number ends in its unit, so that grams never meet kilograms unnoticed."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from arch.source_tree import Module, modules
from suffice.knowledge.store import load

UNITS = {end for unit in load().units.values() for end in unit.endings}
ENDINGS = UNITS | {
    "centile",
    "day",
    "days",
    "h",
    "hours",
    "minutes",
    "months",
    "month",
    "weeks",
    "level",
    "position",
    "probability",
    "spaces",
    "share",
    "characters",
    "cm",
    "mm",
}
"""How a number's name may end: units of the content, spans of time, and what has no unit."""

PLAIN = {
    "value": "the value of a figure or constant, whose unit stands beside it",
    "low": "lower end of an interval, unit beside it",
    "high": "upper end of an interval, unit beside it",
    "L": "LMS as published",
    "M": "LMS as published",
    "S": "LMS as published",
    "l": "LMS as published",
    "m": "LMS as published",
    "s": "LMS as published",
    "z": "a score has no unit",
    "count": "a count has no unit",
    "number": "a bare number as it was written",
    "digits": "digits of a rounding",
    "multiple": "how many were born together",
    "overridden_from": "in the unit of the constant",
    "at": "position on an axis that the series names",
    "start": "position on an axis that the series names",
    "interval": "position of an interval in a table",
    "se": "standard error, in the unit that the function names",
    "sd": "standard deviation, in the unit that the function names",
    "mean": "in the unit that the function names",
    "middle": "in the unit that the function names",
    "least": "in the unit that the function names",
    "n": "a count has no unit",
    "children": "a count has no unit",
    "feeds": "a count has no unit",
    "chi_square": "has no unit",
    "first": "in the unit that the function names",
    "last": "in the unit that the function names",
}
"""Names of numbers that stand without a unit, and why."""

ELSEWHERE = {
    "src/suffice/clinical/latch/mark.py::x": "in pixels of the picture",
    "src/suffice/clinical/latch/mark.py::y": "in pixels of the picture",
    "src/suffice/clinical/growth/increments.py::at_or_above": "in the unit of the table",
    "src/suffice/clinical/growth/increments.py::below": "in the unit of the table",
    **{
        f"src/suffice/clinical/growth/standard.py::{name}": "a coefficient of a published curve"
        for name in (
            "constant",
            "root",
            "linear",
            "inverse",
            "inverse_square",
            "log_inverse_square",
            "male",
        )
    },
}
"""``path::name`` to the reason why it has no unit there."""


def is_number(annotation: ast.expr | None) -> bool:
    """Whether an annotation is int or float, perhaps with None."""
    if isinstance(annotation, ast.BinOp):
        parts = [annotation.left, annotation.right]
        return any(is_number(part) for part in parts) and all(
            is_number(part) or (isinstance(part, ast.Constant) and part.value is None)
            for part in parts
        )
    return isinstance(annotation, ast.Name) and annotation.id in {"int", "float"}


def number_names(module: Module) -> Iterator[tuple[str, int]]:
    """Names of arguments and fields that are annotated as numbers."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.arg) and is_number(node.annotation):
            yield node.arg, node.lineno
        if (
            isinstance(node, ast.AnnAssign)
            and isinstance(node.target, ast.Name)
            and is_number(node.annotation)
            and isinstance(module.parents[node], ast.ClassDef)
        ):
            yield node.target.id, node.lineno


def ends_in_its_unit(name: str) -> bool:
    bare = name.lstrip("_")
    parts = bare.split("_")
    if bare in PLAIN or parts[0] in {"hours", "days", "minutes"} or parts[-1] in {"count", "feeds"}:
        return True
    return any(f"_{bare}".endswith(f"_{end}") for end in ENDINGS)


def test_the_names_of_numbers_in_the_clinical_core_end_in_their_unit() -> None:
    found = [
        f"{module.path}:{line}: {name}"
        for module in modules("src/suffice/clinical")
        for name, line in number_names(module)
        if not ends_in_its_unit(name) and f"{module.path}::{name}" not in ELSEWHERE
    ]
    assert not found, "\n".join(found)


def test_the_scan_sees_a_name_without_unit() -> None:
    assert not ends_in_its_unit("weight")
    assert not ends_in_its_unit("weight_grams")
    assert ends_in_its_unit("weight_g")
    assert ends_in_its_unit("gain_g_per_kg_per_day")
