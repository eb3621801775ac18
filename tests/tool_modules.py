"""Modules of tools/, which are no part of the package, for the tests that hold their figures."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]


def tool_module(name: str) -> ModuleType:
    """The module `tools.NAME`."""
    sys.path.insert(0, str(ROOT))
    try:
        return importlib.import_module(f"tools.{name}")
    finally:
        sys.path.remove(str(ROOT))
