"""Content with a wrong vocabulary of observations is refused, naming file and key."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from suffice.errors import ContentError
from suffice.knowledge import checking_observations
from suffice.knowledge.store import load_folder

FOLDER = Path(checking_observations.__file__).parent / "content"


@pytest.mark.parametrize(
    ("file", "old", "new", "code"),
    [
        ("latch", 'unit = ""', "", ""),
        ("latch", 'expected = ["clear"]', 'expected = ["wide"]', "CONTENT-023"),
        ("latch", "[clicking]", "[age_h]", "CONTENT-012"),
        ("latch", "[clicking]", "[nipple_after]", "CONTENT-012"),
        ("latch", 'type = "one choice"', 'type = "a choice"', "CONTENT-002"),
        ("known", 'unit = "%"', 'unit = "per cent"', "CONTENT-023"),
        ("feed", 'none = "no_swallows"', 'none = "no_such_sign"', "CONTENT-023"),
        ("latch", "[part]", "[head]", "CONTENT-002"),
        ("../scores", 'part = "latch"', 'part = "nowhere"', "CONTENT-024"),
    ],
)
def test_a_fault_is_named(tmp_path: Path, file: str, old: str, new: str, code: str) -> None:
    shutil.copytree(FOLDER, tmp_path / "content")
    path = tmp_path / "content" / "observations" / f"{file}.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    if not code:
        assert load_folder(tmp_path / "content").parts
        return
    assert old in text
    with pytest.raises(ContentError) as refused:
        load_folder(tmp_path / "content")
    assert code in {problem.code for problem in refused.value.problems}
