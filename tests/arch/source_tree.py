"""The program's own source as trees, read once for the tests of its architecture."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "suffice"


@dataclass(frozen=True)
class Module:
    """One Python file: its path below the checkout, its text and its tree with parents."""

    path: str
    text: str
    tree: ast.Module
    parents: dict[ast.AST, ast.AST]

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
def modules(*folders: str) -> tuple[Module, ...]:
    """All Python files below the folders (paths from the checkout's root), migrations left out."""
    found = []
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "migrations" not in path.parts:
                text = path.read_text(encoding="utf-8")
                tree = ast.parse(text)
                parents = {
                    child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)
                }
                found.append(Module(str(path.relative_to(ROOT)), text, tree, parents))
    return tuple(found)
