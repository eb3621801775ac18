"""A content set that was released stays as it was, and gives the answers it gave."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

import pytest
from tools.freeze_content import digest_by_one_thread

from suffice.assess.assessment import ENGINE_VERSION
from suffice.errors import ContentError, InputError
from suffice.knowledge.frozen import content_of, frozen, frozen_content, frozen_versions, place
from suffice.knowledge.store import load

VERSIONS = frozen_versions()
LATEST = VERSIONS[-1]


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    for item in place().iterdir():
        if item.name.endswith((".toml", ".zip")):
            shutil.copy(str(item), tmp_path)
    return tmp_path


@pytest.mark.parametrize("version", VERSIONS)
def test_every_kept_set_is_whole(version: str) -> None:
    content, told = frozen_content(version), frozen(version)
    assert content.version == version
    assert content.digest == told.content_sha256


def test_a_released_set_is_never_changed_without_a_new_version() -> None:
    """Fails when a value of the content changes and `version` in content.toml does not."""
    if load().version in VERSIONS:
        assert load().digest == frozen(load().version).content_sha256


def test_the_latest_set_gives_the_answers_of_its_day() -> None:
    """By the engine of its day; by another, its answers may differ and the page says so."""
    told = frozen(LATEST)
    answers = digest_by_one_thread(LATEST)
    assert answers == digest_by_one_thread(LATEST)
    if told.engine_version == ENGINE_VERSION:
        assert answers == told.answers_sha256


def test_one_other_byte_is_refused(kept: Path) -> None:
    file = kept / f"{LATEST}.zip"
    packed = bytearray(file.read_bytes())
    packed[len(packed) // 2] ^= 1
    file.write_bytes(packed)
    with pytest.raises(ContentError, match="not the archive"):
        frozen_content(LATEST, kept)


def test_another_checksum_does_not_hide_other_content(kept: Path) -> None:
    import hashlib  # noqa: PLC0415

    from suffice.knowledge.frozen import packed_content  # noqa: PLC0415

    folder = kept / "content"
    shutil.copytree(str(files("suffice.knowledge") / "content"), folder)
    topic = folder / "temperature.toml"
    topic.write_text(topic.read_text(encoding="utf-8") + "\n# other\n", encoding="utf-8")
    packed = packed_content(folder)
    (kept / f"{LATEST}.zip").write_bytes(packed)
    head = kept / f"{LATEST}.toml"
    told = head.read_text(encoding="utf-8")
    now = hashlib.sha256(packed).hexdigest()
    head.write_text(told.replace(frozen(LATEST).archive_sha256, now), encoding="utf-8")
    with pytest.raises(ContentError, match="does not hold"):
        frozen_content(LATEST, kept)


def test_a_version_that_is_not_kept_is_refused_by_name() -> None:
    with pytest.raises(InputError, match=LATEST):
        content_of("1999.1.1")


def test_no_version_is_what_is_in_force() -> None:
    assert content_of(None) is load()
