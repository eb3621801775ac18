"""What every process of every run would work out alike: kept in a file until one of its sources changes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from pathlib import Path

VAR = Path(__file__).resolve().parents[1] / "var"
"""The checkout's own working files."""


def kept(folder: Path, sources: Mapping[str, bytes], make: Callable[[], bytes]) -> bytes:
    """What is made of these sources, read from the folder where that was done before."""
    digest = hashlib.sha256()
    for name, text in sorted(sources.items()):
        digest.update(f"{name} {len(text)} ".encode() + text)
    file = folder / f"{digest.hexdigest()}.kept"
    if file.exists():
        return file.read_bytes()
    made = make()
    folder.mkdir(parents=True, exist_ok=True)
    # Several processes may do so at once: each puts a whole file in place, and it is the same one.
    own = folder / f"{os.getpid()}.new"
    own.write_bytes(made)
    own.replace(file)
    for other in folder.glob("*.kept"):
        if other != file:
            other.unlink(missing_ok=True)
    return made
