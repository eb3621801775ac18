"""Whatever an author writes, loading gives a content or a ContentError, and never another error."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import content_folder
from suffice.errors import ContentError
from suffice.knowledge.store import load_folder

LINES = [
    (name, number)
    for name, text in content_folder.RIGHT.items()
    for number, line in enumerate(text.splitlines())
    if line
]
ODD = [
    "",
    "[]",
    "[[]]",
    "[[0]]",
    '[["a"]]',
    "{}",
    '"x"',
    "-1",
    "nan",
    "1e400",
    "true",
    "2020-01-01",
]


def damaged(text: str, number: int, odd: str | None) -> str:
    """The text without a line, or with another value in it."""
    lines = text.splitlines()
    if odd is None or "=" not in lines[number]:
        del lines[number]
    else:
        lines[number] = f"{lines[number].partition('=')[0]}= {odd}"
    return "\n".join(lines) + "\n"


def outcome(folder: Path) -> list[str]:
    """The codes with which a folder is refused; none where it loads. Other errors go on."""
    try:
        load_folder(folder)
    except ContentError as refused:
        return [problem.code for problem in refused.problems]
    return []


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(where=st.sampled_from(LINES), odd=st.sampled_from([None, *ODD]))
def test_a_damaged_line_is_refused_or_harmless(where: tuple[str, int], odd: str | None) -> None:
    name, number = where
    with tempfile.TemporaryDirectory() as home:
        folder = content_folder.write(Path(home))
        path = folder / name
        path.write_text(damaged(path.read_text(encoding="utf-8"), number, odd), encoding="utf-8")
        found = outcome(folder)
        assert all(code.startswith("CONTENT-") for code in found)


def test_a_folder_with_nothing_in_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ContentError, match="CONTENT-002"):
        load_folder(tmp_path)
