"""Imports run one way through the house, and the clinical core and the inference stay pure."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

from arch.source_tree import PACKAGE, ROOT


def test_the_import_contract_is_kept() -> None:
    tool = Path(sys.executable).with_name("lint-imports")
    assert tool.exists(), "import-linter is not installed beside this Python"
    run = subprocess.run(
        [tool, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


def imported_by(path: Path) -> set[str]:
    """The first names of what a file imports."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.add(str(node.module).split(".")[0])
    return found


def test_benchmarks_stand_on_tools_and_tools_on_the_program_alone() -> None:
    above = {"src/suffice": {"tools", "benchmarks"}, "tools": {"benchmarks"}}
    for folder, forbidden in above.items():
        for path in sorted((ROOT / folder).rglob("*.py")):
            assert not imported_by(path) & forbidden, path
    assert "tools" in imported_by(ROOT / "benchmarks" / "page_load.py")


def test_every_room_is_named_in_the_contract() -> None:
    contract = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    rooms = [path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()]
    assert {"clinical", "inference", "knowledge", "record", "care", "web"} <= set(rooms)
    assert [room for room in rooms if f"suffice.{room}" not in contract] == []


def test_the_shell_loads_nothing_heavy_before_a_command_runs() -> None:
    """Its help answers at once, and numpy is loaded only once its threads are set."""
    heavy = ("numpy", "scipy", "polars", "django", "typst", "PIL", "cryptography")
    asked = f"import sys, suffice.cli; print([one for one in {heavy} if one in sys.modules])"
    run = subprocess.run(
        [sys.executable, "-c", asked], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "[]"
