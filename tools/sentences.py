"""Finds the sentences that the inner rooms say, which nobody marks for translation.

The clinical, inference, exchange and care rooms say what they have to say in plain strings and
f-strings: reasons, questions, findings, the names of figures. This module reads their sources
and yields the templates: the gaps of an f-string become named ones, and where a part of it hangs
on a condition each case is a template of its own.

What it takes for something said is any string with a word and a space in it that is no
docstring, no annotation, no comparison and no message of a programmer's error; FRAGMENTS adds the
single words that only ever fill a gap, NOT_SAID leaves out what reads like words and is not.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

SPEAKING = (
    "assess/**/*.py",
    "plan/*.py",
    "care/**/*.py",
    "clinical/**/*.py",
    "exchange/**/*.py",
    "knowledge/policy.py",
    "language/*.py",
    "inference/infant/caution.py",
    "inference/estimate.py",
    "inference/infant/scrutiny.py",
    "inference/infant/weighing.py",
    "knowledge/series.py",
    "knowledge/store.py",
    "record/caseload.py",
    "record/repository.py",
)
SILENT = re.compile(
    r"care/(demo/\w+|family/asking_file|jobs|upkeep)\.py|language/catalogue\.py|assess/parameters\.py"
)
"""Modules of a speaking room that are heard on the command line only, or speak in messages only."""

NOT_SAID = re.compile(
    r"\\|\(\?:|\||Segoe|[{(]datum|^suffice family$|^(lb|fl|US fl) oz$|too large to show$|no_break_space"
)
WHOLE = re.compile(r"[A-Z][a-z]+[.?!]")
WORD = re.compile(r"[^\W\d_]{2,}")
PROGRAMMERS_ERRORS = {
    "ValueError",
    "TypeError",
    "KeyError",
    "NotImplementedError",
    "AssertionError",
}

FRAGMENTS = (
    *("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    *("wet", "wets", "stool", "stools", "mother", "parent", "formula", "weight", "length", "head"),
    *("volume", "temperature", "gestation", "duration", "male", "female", "girls", "boys"),
    *("birth", "feed", "expression", "illness", "contact", "identity", "note", "withdrawal"),
    *("expressed", "donor", "breast", "naked", "clothed", "axilla", "rectum", "ear", "forehead"),
    *("g/day", "g/kg/day", "mL/day", "kcal/day", "mL/kg/day", "kcal/kg/day", "count"),
    *("below", "row", "date", "time", "age", "infant", "milk", "minutes", "sex", "side"),
    *("point", "comma", "semicolon", "tab", "space", "colon", "before", "after", "loss", "gain"),
    *("energy", "weighings", "hours", "days", "minutes", "evaporation", "density", "limit"),
    *("skew", "median", "cv", "mean", "sd", "shift", "value", "term", "earlier", "later"),
    *("/day", "a day", "fl oz/day", "published", "derived", "judgement", "caesarean", "vaginal"),
    *("common practice", "from memory, to verify", "assisted vaginal", "dry diaper", "unit"),
    *("feed", "amount", "name", "device", "note", "colour", "head circumference", "not known"),
    *("intake", "need", "evaporated", "transfer", "taught"),
    *("WHO", "or", "and", "fallen", "risen", "Pale", "Red"),
)

Gaps = dict[str, str]


def templates(house: Path) -> Iterator[tuple[str, str]]:
    """Every template with the file that says it, relative to `house`."""
    for pattern in SPEAKING:
        for path in sorted(house.glob(pattern)):
            place = path.relative_to(house).as_posix()
            if not SILENT.fullmatch(place):
                found = in_module(path.read_text(encoding="utf-8"), own_words="exchange" in place)
                yield from ((place, template) for template in found)
    yield from (("tools/sentences.py", word) for word in dict.fromkeys(FRAGMENTS))


def in_module(source: str, *, own_words: bool = False) -> Iterator[str]:
    """The templates of a module.

    Args:
        source: The module.
        own_words: Whether its module-level tables hold words that it reads rather than says.
    """
    tree = ast.parse(source)
    found: dict[str, None] = {}
    for statement in tree.body:
        if own_words and isinstance(statement, ast.Assign | ast.AnnAssign):
            continue
        for node in _outermost(statement):
            for text in _alternatives(node):
                said = text.strip()
                if is_said(said):
                    found[said] = None
    yield from found


def is_said(text: str) -> bool:
    """Whether a template reads like something said: a sentence, or a word and a space."""
    plain = re.sub(r"\{\w+\}", "", text)
    whole = " " in text or WHOLE.fullmatch(text)
    return bool(whole) and WORD.search(plain) is not None and NOT_SAID.search(text) is None


def _outermost(node: ast.AST) -> Iterator[ast.expr]:
    """The string expressions below a node that are not part of a larger one."""
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "message":
        return  # marked: tools/messages.py gathers it
    if isinstance(node, ast.expr) and _is_text(node):
        yield node
        # A call inside it may be handed a sentence of its own.
        for inner in ast.walk(node):
            if isinstance(inner, ast.Call):
                yield from _outermost(inner)
        return
    for child in _children(node):
        yield from _outermost(child)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """What may say something: no docstring, annotation, comparison, key or programmer's error."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    if isinstance(node, ast.Compare | ast.Subscript) or _is_programmers_error(node):
        return
    if isinstance(node, ast.Dict):
        yield from node.values
        return
    if isinstance(node, ast.ClassDef):
        yield from node.body
        return
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield child


def _is_programmers_error(node: ast.AST) -> bool:
    if not isinstance(node, ast.Raise) or not isinstance(node.exc, ast.Call):
        return False
    return getattr(node.exc.func, "id", "") in PROGRAMMERS_ERRORS


def _is_text(node: ast.expr) -> bool:
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str)
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.Add) and (_is_text(node.left) or _is_text(node.right))
    if isinstance(node, ast.IfExp):
        return _is_text(node.body) and _is_text(node.orelse)
    return isinstance(node, ast.JoinedStr)


def _alternatives(node: ast.expr) -> list[str]:
    """Every template that an expression may come to."""
    parts = list(_parts(node))
    texts = []
    for chosen in product(*parts):
        names: list[str] = []
        texts.append("".join(_gap(part, names) for part in chosen))
    return texts


Part = str | ast.expr
"""Literal text, or the expression that fills a gap."""


def _parts(node: ast.expr) -> Iterator[list[Part]]:
    """The pieces of a string expression, each with what may stand there."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield [node.value]
    elif isinstance(node, ast.JoinedStr):
        for value in node.values:
            if isinstance(value, ast.Constant):
                yield [str(value.value).replace("{", "{{").replace("}", "}}")]
            elif isinstance(value, ast.FormattedValue) and isinstance(value.value, ast.IfExp):
                yield _branches(value.value)
            elif isinstance(value, ast.FormattedValue):
                yield [value.value]
    elif isinstance(node, ast.BinOp) and _is_text(node):
        yield from _parts(node.left)
        yield from _parts(node.right)
    elif isinstance(node, ast.IfExp):
        yield _branches(node)
    else:
        # Words that another function gives, or none.
        yield ["", node]


def _branches(node: ast.IfExp) -> list[Part]:
    found: list[Part] = []
    for branch in (node.body, node.orelse):
        if isinstance(branch, ast.IfExp):
            found += _branches(branch)
        elif isinstance(branch, ast.Constant) and isinstance(branch.value, str):
            found.append(branch.value)
        elif isinstance(branch, ast.JoinedStr | ast.BinOp) and _is_text(branch):
            found += _alternatives(branch)
        else:
            found.append(branch)
    return found


def _gap(part: Part, names: list[str]) -> str:
    if isinstance(part, str):
        return part
    name = _name(part).strip("_").lower() or "it"
    names.append(name)
    count = names.count(name)
    return f"{{{name}}}" if count == 1 else f"{{{name}_{count}}}"


def _name(node: ast.AST) -> str:
    """What to call the gap that an expression fills: its nearest name."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return _name(node.value) if node.attr == "value" else node.attr
    if isinstance(node, ast.Call):
        return _name(node.args[0] if node.args else node.func)
    if isinstance(node, ast.GeneratorExp | ast.ListComp):
        return _name(node.generators[0].iter)
    inner = next(ast.iter_child_nodes(node), None)
    return "it" if inner is None else _name(inner)
