"""Released content sets, each kept whole, so that a past answer can be asked again.

A set is one archive ``VERSION.zip`` (the content folder of that day) and one ``VERSION.toml`` that
says its checksum, the digest of its content, and the engine and the answers of the day it was frozen.
"""

from __future__ import annotations

import hashlib
import io
import tomllib
import zipfile
from datetime import date
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import cast

import msgspec

from suffice.errors import ContentError, InputError, Problem
from suffice.knowledge.reading import digest_of, files_below
from suffice.knowledge.store import Content, load, load_folder
from suffice.message import Listed, message


class Frozen(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was kept about a content set on the day it was frozen.

    Attributes:
        version: Version of the content.
        frozen_on: The day.
        archive_sha256: SHA-256 of the archive.
        content_sha256: Digest of the content, as `Content.digest`.
        tables_sha256: Digest of its growth tables; the program reads only those it ships with.
        engine_version: The engine of that day.
        answers_sha256: Digest of the assessments of the example families, by that engine.
    """

    version: str
    frozen_on: date
    archive_sha256: str
    content_sha256: str
    tables_sha256: str
    engine_version: str
    answers_sha256: str


def place() -> Traversable:
    """The folder of the frozen sets."""
    return files("suffice.knowledge") / "frozen"


def frozen_versions(folder: Traversable | None = None) -> tuple[str, ...]:
    """The versions that are kept, the oldest first."""
    names = (item.name for item in (folder or place()).iterdir())
    kept = [name.removesuffix(".toml") for name in names if name.endswith(".toml")]
    return tuple(sorted(kept, key=lambda one: [int(part) for part in one.split(".")]))


def frozen(version: str, folder: Traversable | None = None) -> Frozen:
    """What was kept about a version.

    Raises:
        InputError: CONTENT-021 when that version is not kept.
    """
    there = folder or place()
    kept = frozen_versions(there)
    if version not in kept:
        raise InputError(
            Problem(
                code="CONTENT-021",
                what=message("the content set '{version}'", version=version),
                why=message("is not among those that are kept."),
                fix=message("Choose one of {versions}.", versions=Listed(tuple(kept))),
            )
        )
    tables = tomllib.loads((there / f"{version}.toml").read_text(encoding="utf-8"))
    return msgspec.convert(tables, Frozen)


@lru_cache(maxsize=4)
def frozen_content(version: str, folder: Traversable | None = None) -> Content:
    """The content of a version that is kept, as it was frozen.

    Values that it did not hold yet and the program of today asks for are today's.

    Raises:
        InputError: CONTENT-021 when that version is not kept.
        ContentError: CONTENT-022 when the archive was changed since, or the growth tables are others.
    """
    there = folder or place()
    kept = frozen(version, there)
    packed = (there / f"{version}.zip").read_bytes()
    if hashlib.sha256(packed).hexdigest() != kept.archive_sha256:
        raise ContentError(_changed(version, "is not the archive that was frozen."))
    if tables_digest(files("suffice.knowledge") / "content") != kept.tables_sha256:
        raise ContentError(_changed(version, "was frozen with other growth tables."))
    # A path inside an archive has all that is asked of a folder, by another declared type.
    content = load_folder(cast("Traversable", zipfile.Path(io.BytesIO(packed))))
    if (content.version, content.digest) != (version, kept.content_sha256):
        raise ContentError(_changed(version, "does not hold the content that was frozen."))
    return content.completed_from(load())


def not_asked_today(content: Content) -> tuple[str, ...]:
    """Codes of the flags of a kept set that rest on what the program no longer finds.

    Such a flag cannot hold, and a reader of that set's answer must know of it.
    """
    asked = {"infant": load().askable.infant, "parent": load().askable.parent}
    return tuple(
        row.code
        for row in content.flags
        if any(
            (one.measure and one.measure not in asked[row.about].measures)
            or (one.sign and one.sign not in asked[row.about].signs)
            for one in row.when.each()
        )
    )


def content_of(version: str | None) -> Content:
    """The content of a version: what is in force now where it is that one or none is named.

    Raises:
        InputError: CONTENT-021 when that version is neither in force nor kept.
        ContentError: CONTENT-022 when the archive was changed since.
    """
    now = load()
    if version is None or (version == now.version and version not in frozen_versions()):
        return now
    return frozen_content(version)


def engine_then(content: Content) -> str:
    """The engine of the day on which a content set was frozen; empty for one that is not kept."""
    return frozen(content.version).engine_version if content.version in frozen_versions() else ""


def tables_digest(folder: Traversable) -> str:
    """The digest of the growth tables in a content folder."""
    tables = files_below(folder / "tables")
    return digest_of({path: item.read_bytes() for path, item in tables.items()})


def packed_content(folder: Traversable) -> bytes:
    """A content folder as an archive; the same files give the same bytes."""
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, item in files_below(folder).items():
            archive.writestr(zipfile.ZipInfo(path), item.read_bytes(), zipfile.ZIP_DEFLATED, 9)
    return into.getvalue()


def _changed(version: str, why: str) -> Problem:
    return Problem(
        code="CONTENT-022",
        what=message("The frozen content set {version}", version=version),
        why=why,
        fix=message("Install the program again; a released set is never changed."),
        where=f"frozen/{version}.zip",
    )
