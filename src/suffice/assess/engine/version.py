"""Names the engine by what it is made of: nobody has to remember to raise a number."""

from __future__ import annotations

import hashlib
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Final

from suffice.knowledge.reading import files_below

ROOMS: Final = ("clinical", "inference", "assess", "knowledge")
"""The rooms whose lines and values can change an answer: the content and its tables are among them."""

BESIDE: Final = ("message.py", "care/caseload/summary.py")
"""How a sentence is put together, and what the caseload keeps of an answer: a kept row is as old as these."""

NOT_ANSWERING: Final = ("knowledge/library.py", "knowledge/frozen/")
"""What lists the content, and what keeps old sets of it, changes no answer."""


def digest_of_engine(package: Traversable) -> str:
    """A digest of every line and every content value from which an answer is made.

    Args:
        package: The folder of the program.
    """
    asked = {path: package / path for path in BESIDE} | {
        path: file
        for room in ROOMS
        for path, file in files_below(package / room, f"{room}/").items()
        if path.endswith((".py", ".toml", ".csv")) and not path.startswith(NOT_ANSWERING)
    }
    digest = hashlib.sha256()
    for path, file in asked.items():
        written = file.read_bytes()
        digest.update(f"{path}\0{len(written)}\0".encode())
        digest.update(written)
    return digest.hexdigest()[:12]


ENGINE_VERSION = f"{version('suffice')}+{digest_of_engine(files('suffice'))}"
"""Changes with every change of what computes: kept results then expire."""
