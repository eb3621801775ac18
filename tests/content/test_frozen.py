"""A content set that was released stays as it was, and gives the answers it gave."""

from __future__ import annotations

import shutil
import tomllib
import zipfile
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import msgspec
import pytest
from tools.freeze_content import digest_by_one_thread

from suffice.assess.assessment import ENGINE_VERSION
from suffice.assess.parameters import parameters_of
from suffice.errors import ContentError, InputError
from suffice.knowledge.frozen import (
    content_of,
    frozen,
    frozen_content,
    frozen_versions,
    not_asked_today,
    place,
)
from suffice.knowledge.schema import Flag
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


@pytest.mark.parametrize("version", VERSIONS)
def test_a_kept_set_has_all_that_the_program_asks_and_its_own_values_and_flags(
    version: str,
) -> None:
    content = frozen_content(version)
    assert parameters_of(content)
    assert content.entries.keys() >= load().entries.keys()
    with zipfile.ZipFile(str(place() / f"{version}.zip")) as archive:
        own = tomllib.loads(archive.read("temperature.toml").decode())
        rows = [name for name in archive.namelist() if name.endswith("_flags.toml")]
        codes = {
            row["code"]
            for name in rows
            for row in tomllib.loads(archive.read(name).decode())["flag"]
        }
    assert content.constant("temperature.fever_c").value == own["fever_c"]["value"]
    assert {row.code for row in content.flags} == codes
    assert set(not_asked_today(content)) <= codes


def test_a_flag_that_rests_on_what_is_no_longer_found_is_named() -> None:
    asked = replace(load(), flags=(flag_asking("loss_percent"), flag_asking("weight_of_the_moon")))
    assert not_asked_today(asked) == ("weight-of-the-moon",)
    assert not_asked_today(load()) == ()


def flag_asking(measure: str) -> Flag:
    (row,) = (one for one in load().flags if one.code == "loss-at-limit")
    asked = msgspec.structs.replace(row.when, measure=measure)
    return msgspec.structs.replace(row, code=measure.replace("_", "-"), when=asked)


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
