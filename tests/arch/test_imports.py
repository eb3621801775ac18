"""Imports run one way through the house, and the clinical core and the inference stay pure."""

from __future__ import annotations

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


def test_every_room_is_named_in_the_contract() -> None:
    contract = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    rooms = [path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()]
    assert {"clinical", "inference", "knowledge", "record", "care", "web"} <= set(rooms)
    assert [room for room in rooms if f"suffice.{room}" not in contract] == []
