"""The command line of the tables: the files that a case may name, and what it runs."""

from __future__ import annotations

import json
import socket
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from bad_input.family import IDS
from bad_input.json_door import family_file
from bad_input.table import filled

TABLE = "infant,date and time,weight g\n1,2026-11-03 10:00,3150\n"


def lay_out(folder: Path) -> None:
    """Every file that the cases name, in one folder."""
    family = json.dumps(family_file()).encode()
    contents: dict[str, bytes] = {
        "family.json": family,
        "empty.json": b"",
        "half.json": family[: len(family) // 2],
        "letter.json": b"Dear colleague, here is the family.",
        "latin.json": family.replace(b"tired", "müde".encode("cp1252")),
        "family.csv": family,
        "weights.csv": TABLE.encode(),
        "weights.txt": TABLE.encode(),
        "weights.xlsx": b"PK\x03\x04\x00\x00",
        "empty.csv": b"",
        "heavy.csv": (TABLE + "1,2026-11-04 10:00,heavy\n").encode(),
        "cohort.csv": b"infant_id,weight_g\n1,3150\n",
        "empty.parquet": b"",
    }
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    _parquet(folder)
    (folder / "a folder").mkdir()
    (folder / "huge.json").touch()
    with (folder / "huge.json").open("r+b") as opened:
        opened.truncate(65 * 1024 * 1024)


def _parquet(folder: Path) -> None:
    """Cohorts with a column missing, without zones, and as they should be."""
    import polars as pl  # noqa: PLC0415  # heavy: only the tests of this door need it

    pl.DataFrame({"infant_id": ["1"], "mass_kg": [3.15]}).write_parquet(folder / "columns.parquet")
    pl.DataFrame({"infant_id": ["1"], "weight_g": [3150.0], "age_h": [240.0]}).write_parquet(
        folder / "cohort.parquet"
    )
    pl.DataFrame(
        {
            "infant_id": ["1"],
            "weight_g": [3150.0],
            "born_at": ["2026-10-20T10:00:00"],
            "weighed_at": ["2026-11-03T10:00:00"],
        }
    ).with_columns(
        pl.col("born_at").str.to_datetime(), pl.col("weighed_at").str.to_datetime()
    ).write_parquet(folder / "naive.parquet")


def arguments(case: Mapping[str, Any], folder: Path, port: int) -> list[str]:
    """What is typed behind `suffice`; {folder} and {port} are filled in."""
    return [
        filled(part, IDS).format(folder=folder, port=port) if "{" in part else filled(part, IDS)
        for part in case["typed"]
    ]


def as_typed(text: str, folder: Path, port: int) -> str:
    """What was said, with {folder} and {port} in place of those of this run."""
    told = text.replace(str(folder), "{folder}").replace(str(port + 1), "{port + 1}")
    return told.replace(str(port), "{port}")


def taken_port() -> socket.socket:
    """A port of this computer that something listens on."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen(1)
    return listening
