"""Freezes the content set in force: ``python -m tools.freeze_content``, once for each release.

A version that is kept is never written over: raise `version` in content.toml first.
"""

from __future__ import annotations

import hashlib
import sys
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import msgspec

from suffice.assess.assessment import ENGINE_VERSION, assess
from suffice.care.demo.family import Families
from suffice.care.demo.scenario import scenario
from suffice.knowledge.frozen import (
    Frozen,
    frozen_content,
    frozen_versions,
    packed_content,
    tables_digest,
)
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import Content, load
from suffice.processes import processes

FOLDER = Path(__file__).resolve().parents[1] / "src" / "suffice" / "knowledge" / "frozen"
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
FAMILIES = 6
"""Example families whose answers are kept: enough for every room to have been asked."""


DIGITS = 4
DECIMALS = 9
"""Digits of a number that are kept, and decimals: the last ones are the processor's, not ours."""


def answers_digest(content: Content) -> str:
    """SHA-256 of the whole assessments of the first example families, the engine's name left out.

    Numbers count to DIGITS digits: with other vector instructions a processor adds up in another
    order.
    """
    digest = hashlib.sha256()
    for record in tuple(Families(scenario(), now=NOW, entered_by="ann").records())[:FAMILIES]:
        told = assess(record, NOW, content, Policy())
        plain = msgspec.to_builtins(msgspec.structs.replace(told, engine_version=""))
        digest.update(msgspec.json.encode(shortened(plain)))
    return digest.hexdigest()


def shortened(value: object) -> object:
    """The same with every number to DIGITS significant digits and DECIMALS decimals."""
    if isinstance(value, dict):
        return {key: shortened(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [shortened(one) for one in value]
    return (
        round(float(f"{value:.{DIGITS}g}"), DECIMALS) + 0.0 if isinstance(value, float) else value
    )


def digest_of(version: str | None) -> str:
    """That of a kept set, or of the content in force; for a process of its own."""
    return answers_digest(frozen_content(version) if version else load())


def digest_by_one_thread(version: str | None = None) -> str:
    """The same with one thread of arithmetic, as the program runs: more give other last digits."""
    with processes(1) as pool:
        return pool.submit(digest_of, version).result()


def main() -> int:
    """Write the archive and what is kept about it; 1 when that version is kept already."""
    content = load()
    if content.version in frozen_versions():
        sys.stderr.write(f"{content.version} is frozen: raise `version` in content.toml.\n")
        return 1
    folder = files("suffice.knowledge") / "content"
    packed = packed_content(folder)
    kept = Frozen(
        version=content.version,
        frozen_on=datetime.now(UTC).date(),
        archive_sha256=hashlib.sha256(packed).hexdigest(),
        content_sha256=content.digest,
        tables_sha256=tables_digest(folder),
        engine_version=ENGINE_VERSION,
        answers_sha256=digest_by_one_thread(),
    )
    (FOLDER / f"{content.version}.zip").write_bytes(packed)
    lines = [f'{key} = "{value}"' for key, value in msgspec.structs.asdict(kept).items()]
    (FOLDER / f"{content.version}.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
