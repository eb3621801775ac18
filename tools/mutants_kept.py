"""What a run of mutants leaves behind, so that the next one need not begin again.

A map of the tests stands for the code and the tests that it was made of, to the byte. A noticed
mutant stays noticed while the file that it changes is the same: a test that notices it is there.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from tools.mutant_draw import ROOT, Mutant, Outcome

FOLDER = ROOT / "var" / "mutants"
OUTCOMES = FOLDER / "outcomes.json"
MAPPED = FOLDER / "mapped"


def digest_of(paths: list[Path]) -> str:
    """One text for the names and bytes of files."""
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.as_posix().encode() + b"\0")
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def digest_of_the_code() -> str:
    """Of everything that decides which test runs which line: package, content and tests."""
    found = [p for room in ("src", "tests") for p in (ROOT / room).rglob("*") if p.is_file()]
    return digest_of(sorted(p for p in found if p.suffix in {".py", ".toml", ".csv"}))


def map_holds() -> bool:
    """Whether the map in the folder was made of the code and tests as they are now."""
    return MAPPED.exists() and MAPPED.read_text(encoding="ascii") == digest_of_the_code()


def note_map() -> None:
    MAPPED.write_text(digest_of_the_code(), encoding="ascii")


def _named(mutant: Mutant) -> list[str | int]:
    """What tells one mutant from another: its file, to the byte, its place and its change."""
    digest = digest_of([ROOT / mutant.path])
    return [mutant.path, digest, mutant.start, mutant.end, mutant.new]


def keep(outcomes: list[Outcome]) -> None:
    """Write down what became of the mutants so far."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    noted = [[*_named(outcome.mutant), outcome.state] for outcome in outcomes]
    OUTCOMES.write_text(json.dumps(noted), encoding="utf-8")


def kept(sample: list[Mutant]) -> list[Outcome]:
    """Those of a sample that were noticed before, and of whose file no byte has changed."""
    if not OUTCOMES.exists():
        return []
    noted = json.loads(OUTCOMES.read_text(encoding="utf-8"))
    states = {json.dumps(row[:-1]): row[-1] for row in noted}
    found = [Outcome(m, states[name]) for m in sample if (name := json.dumps(_named(m))) in states]
    return [outcome for outcome in found if outcome.is_noticed]
