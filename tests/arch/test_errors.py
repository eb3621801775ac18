"""Every code that the program can raise is explained in docs/errors.md, and none beside."""

from __future__ import annotations

import ast
import re

from arch.source_tree import ROOT, modules

CODE = re.compile(r"[A-Z]{3,}-\d{3}")


def codes_in_the_program() -> dict[str, str]:
    """Each code that stands as a literal of its own, and one place where it does."""
    return {
        node.value: f"{module.path}:{node.lineno}"
        for module in modules("src/suffice")
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and CODE.fullmatch(node.value)
    }


def headings() -> list[str]:
    page = (ROOT / "docs" / "errors.md").read_text(encoding="utf-8")
    return re.findall(r"^#+ ([A-Z]{3,}-\d{3})\b", page, re.MULTILINE)


def test_every_code_has_a_heading() -> None:
    explained = set(headings())
    missing = {code: at for code, at in codes_in_the_program().items() if code not in explained}
    assert missing == {}, "give each a heading in docs/errors.md"


def test_every_heading_is_a_code_that_can_be_raised() -> None:
    assert set(headings()) - set(codes_in_the_program()) == set()


def test_no_code_is_explained_twice() -> None:
    assert len(headings()) == len(set(headings()))


def test_every_problem_is_made_with_a_literal_code() -> None:
    """Otherwise the two checks above would not see it; a parameter called `code` is passed on."""
    hidden = [
        f"{module.path}:{node.lineno}"
        for module in modules("src/suffice")
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call)
        and getattr(node.func, "id", "") == "Problem"
        and not any(keyword.arg == "code" for keyword in node.keywords)
    ]
    assert hidden == []


def test_a_code_is_raised_in_one_room_only() -> None:
    """Two rooms that share a code would share its heading, and mean two things by it."""
    rooms: dict[str, set[str]] = {}
    for module in modules("src/suffice"):
        for node in ast.walk(module.tree):
            if isinstance(node, ast.keyword) and node.arg == "code":
                code = getattr(node.value, "value", None)
                if isinstance(code, str) and CODE.fullmatch(code):
                    rooms.setdefault(code, set()).add(module.path.split("/")[2])
    assert {code: sorted(where) for code, where in rooms.items() if len(where) > 1} == {}
