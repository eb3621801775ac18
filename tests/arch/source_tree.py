"""The program's own source as trees, read once for the tests of its architecture."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "suffice"


@dataclass
class Module:
    """One Python file: its path below the checkout, its text, and once asked for its tree with parents."""

    path: str
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @cached_property
    def parents(self) -> dict[ast.AST, ast.AST]:
        return {child: node for node in ast.walk(self.tree) for child in ast.iter_child_nodes(node)}

    def above(self, node: ast.AST) -> list[ast.AST]:
        """The nodes around a node, the nearest first."""
        found = []
        while node in self.parents:
            node = self.parents[node]
            found.append(node)
        return found

    def line(self, node: ast.AST) -> str:
        return self.text.splitlines()[node.lineno - 1].strip()  # type: ignore[attr-defined]


@cache
def _module(path: Path) -> Module:
    return Module(str(path.relative_to(ROOT)), path.read_text(encoding="utf-8"))


@cache
def modules(*folders: str) -> tuple[Module, ...]:
    """All Python files below the folders (paths from the checkout's root), migrations left out."""
    return tuple(
        _module(path)
        for folder in folders
        for path in sorted((ROOT / folder).rglob("*.py"))
        if "migrations" not in path.parts
    )
