"""A test draws the same examples alone and after others: what a failure shows, a rerun shows too."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fixed_draws import constants_kept, constants_of

ROOT = Path(__file__).resolve().parents[2]

DRAWS = """
from hypothesis import given, settings, strategies as st

drawn = []

@settings(max_examples=400)
@given(st.integers(), st.floats(), st.text())
def test_draw(number, real, words):
    drawn.append((number, real, words))

def teardown_module():
    print("DREW", len(drawn), repr(drawn).encode().hex())
"""
OTHER = "import suffice.cohort, suffice.exchange, suffice.plan, suffice.clinical.weight.gain\n"
OTHER += "import suffice.inference.infant.likelihood\n"
OTHER += "def test_other(): assert suffice.plan\n"


def drawn(folder: Path, *names: str) -> tuple[int, str]:
    """How many examples a run of these files drew, and a digest of them."""
    folder.mkdir(exist_ok=True)
    (folder / "test_draws.py").write_text(DRAWS)
    (folder / "test_another.py").write_text(OTHER)
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-s", "-c", str(ROOT / "pyproject.toml"),
         "-p", "conftest", "--randomly-dont-reorganize", *(str(folder / name) for name in names)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT / "tests")},
        check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    (said,) = (line for line in run.stdout.splitlines() if "DREW" in line)
    _, count, examples = said[said.index("DREW") :].split()
    return int(count), hashlib.sha256(examples.encode()).hexdigest()


@pytest.mark.slow
def test_examples_do_not_depend_on_which_modules_are_imported(tmp_path: Path) -> None:
    alone = drawn(tmp_path, "test_draws.py")
    assert alone[0] == 400
    assert drawn(tmp_path, "test_another.py", "test_draws.py") == alone


def test_constants_are_kept_until_a_source_changes(tmp_path: Path) -> None:
    first = {"a.py": b"LIMIT = 7003\nWORD = 'a word'\n", "b.py": b"RAW = b'raw'\nHALF = -0.53\n"}
    found = constants_of(first)
    assert constants_kept(first, tmp_path) == found
    (file,) = tmp_path.iterdir()
    assert {7003, "a word", b"raw", -0.53} <= set(constants_kept(first, tmp_path))
    assert constants_kept(first, tmp_path) == found
    changed = first | {"b.py": b"RAW = b'other'\n"}
    assert constants_kept(changed, tmp_path) == constants_of(changed) != found
    (other,) = tmp_path.iterdir()
    assert other != file
