"""Open data kept beside the checkout; a test that needs it skips with a clear word where it is absent."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[1].parent / "shared" / "data"


def shared_rows(*parts: str) -> list[dict[str, str]]:
    """The rows of one open CSV file; skips the test where the file is absent."""
    path = SHARED.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"open data not present: ../shared/data/{'/'.join(parts)}")
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
