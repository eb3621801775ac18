"""The tables of bad CSV: the file of a case, and what is said about it beside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from bad_input.family import IDS, NOW, ZONE
from bad_input.table import filled
from suffice.exchange.table.options import CsvOptions


def content(case: Mapping[str, Any]) -> bytes:
    """The bytes of the file; its first line is row 1."""
    return filled(case["file"], IDS).encode(case.get("encoding", "utf-8"))


def options(case: Mapping[str, Any], **more: Any) -> CsvOptions:
    """What is said about the file: the clinic's zone, a name of the source, and the case's own."""
    said = {"zone": ZONE, "entered_by": "consultant", "entered_at": NOW, "source": "ward"}
    return CsvOptions(**{**said, **case.get("options", {}), **more})


def family_of(case: Mapping[str, Any]) -> UUID | None:
    """The family that the file is about; None for a file of many."""
    return IDS[case["about"]] if "about" in case else None
