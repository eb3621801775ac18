"""Released content sets: which are kept, what was kept about them, and what is refused."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from suffice.errors import ContentError, InputError
from suffice.knowledge import frozen as room
from suffice.knowledge.frozen import (
    content_of,
    engine_then,
    frozen,
    frozen_content,
    frozen_versions,
    packed_content,
    place,
    tables_digest,
)
from suffice.knowledge.store import load

LATEST = frozen_versions()[-1]


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    for item in place().iterdir():
        if item.name.endswith((".toml", ".zip")):
            shutil.copy(str(item), tmp_path)
    return tmp_path


def test_versions_are_ordered_by_their_numbers(tmp_path: Path) -> None:
    for name in ("2026.11.10.toml", "2026.9.1.toml", "2026.11.9.toml", "2026.11.9.zip", "x.py"):
        (tmp_path / name).touch()
    assert frozen_versions(tmp_path) == ("2026.9.1", "2026.11.9", "2026.11.10")


def test_a_version_that_is_not_kept_is_refused_with_those_that_are(kept: Path) -> None:
    for ask in (frozen, frozen_content):
        with pytest.raises(InputError, match="CONTENT-021") as refused:
            ask("1999.1.1", kept)
        assert LATEST in str(refused.value)


def test_a_set_of_other_growth_tables_is_refused(kept: Path) -> None:
    head = kept / f"{LATEST}.toml"
    told, other = head.read_text(encoding="utf-8"), hashlib.sha256(b"other").hexdigest()
    head.write_text(told.replace(frozen(LATEST).tables_sha256, other), encoding="utf-8")
    with pytest.raises(ContentError, match="CONTENT-022") as refused:
        frozen_content(LATEST, kept)
    assert "growth tables" in str(refused.value)


def test_the_engine_of_the_day_is_known_of_a_kept_set() -> None:
    assert engine_then(frozen_content(LATEST)) == frozen(LATEST).engine_version


def test_the_version_in_force_is_asked_as_it_is_where_it_is_not_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now = load()
    monkeypatch.setattr(room, "frozen_versions", lambda folder=None: ())
    assert content_of(now.version) is now
    assert content_of(None) is now
    assert engine_then(now) == ""
    with pytest.raises(InputError, match="CONTENT-021"):
        content_of("1999.1.1")


def test_a_kept_version_is_asked_as_it_was_frozen() -> None:
    assert content_of(LATEST) is frozen_content(LATEST)


def test_the_same_files_give_the_same_archive_and_other_tables_another_digest(
    tmp_path: Path,
) -> None:
    for folder, text in (("a", "x"), ("b", "x"), ("c", "y")):
        (tmp_path / folder / "tables").mkdir(parents=True)
        (tmp_path / folder / "tables" / "one.csv").write_text(text)
        (tmp_path / folder / "topic.toml").write_text("same")
    a, b, c = (tmp_path / folder for folder in "abc")
    assert packed_content(a) == packed_content(b) != packed_content(c)
    assert tables_digest(a) == tables_digest(b) != tables_digest(c)
    (b / "topic.toml").write_text("other")
    assert tables_digest(a) == tables_digest(b)
