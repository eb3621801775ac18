"""The stages of a cohort's run, each a function of files: run here, or on the workers of a cluster.

```
rows of a chunk ──split_chunk──> part-0000/rows-000000.parquet ... ──assess_folder──> part-0000.answers.parquet
```

A chunk is so many rows of the input in their order; a part holds all rows of its infants. The same
input makes the same chunks and parts wherever it is run. Each file appears whole or not at all, and a
stage that is run again writes the same files.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from uuid import uuid4

import polars as pl

from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.cohort.part import BatchSetting, Sites, assess_part, batch_setting
from suffice.cohort.rows import check_columns, checked, checked_nothing
from suffice.errors import InputError, Problem
from suffice.knowledge.store import load
from suffice.message import message

CHUNK_ROWS = 50_000
PART_ROWS = 40_000
MOST_PARTS = 512


@dataclass(frozen=True, kw_only=True)
class Cohort:
    """The files of a cohort, and into how many chunks and parts they are divided.

    Attributes:
        files: Parquet files in their order; rows are numbered through all of them.
        rows_count: Rows in all files.
        columns: Names of the columns.
        chunks_count: Pieces in which the rows are read.
        parts_count: Pieces in which infants are assessed.
        chunk_rows: Rows of a chunk.
    """

    files: tuple[Path, ...]
    rows_count: int
    columns: frozenset[str]
    chunks_count: int
    parts_count: int
    chunk_rows: int


@dataclass(frozen=True, kw_only=True)
class ChunkSplit:
    """What splitting a chunk found: rows read, rows that name no infant, and the problems."""

    rows_count: int
    unattributed_rows_count: int
    problems: pl.DataFrame


def cohort_of(path: Path) -> Cohort:
    """A Parquet file, or a folder of them in the order of their names.

    Raises:
        InputError: BATCH-001 to BATCH-003 for a file that cannot be used, BATCH-007 for a folder
            without one, or whose files differ in their columns.
    """
    files = tuple(sorted(path.rglob("*.parquet"))) if path.is_dir() else (path,)
    if not files:
        raise InputError(_unlike(path, "*.parquet"))
    schemas = [check_columns(file) for file in files]
    for file, schema in zip(files, schemas, strict=True):
        if schema != schemas[0]:
            raise InputError(_unlike(file, files[0].name))
    total = int(pl.scan_parquet(list(files)).select(pl.len()).collect().item())
    return Cohort(
        files=files,
        rows_count=total,
        columns=frozenset(schemas[0]),
        chunks_count=math.ceil(total / CHUNK_ROWS),
        parts_count=min(max(math.ceil(total / PART_ROWS), 1), MOST_PARTS),
        chunk_rows=CHUNK_ROWS,
    )


def _unlike(path: Path, other: str) -> Problem:
    return Problem(
        code="BATCH-007",
        what=message("{file} does not go with {other}.", file=path.name, other=other),
        why=message("The Parquet files of a folder are read as one: each has the same columns."),
        fix=message("Write them with the same columns of the same kinds, or name one file."),
        where=path.name,
    )


def split_chunk(cohort: Cohort, number: int, work: Path) -> ChunkSplit:
    """Check the rows of a chunk and write them to a folder for each part."""
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    start = number * cohort.chunk_rows
    # In one block each: see suffice.cohort.rows.checked.
    piece = pl.scan_parquet(list(cohort.files)).slice(start, cohort.chunk_rows).collect().rechunk()
    rows = piece.with_row_index("row", offset=start + 1)
    kept, wrong = checked(rows, limits, setting().reference.last_day)
    by_part = kept.with_columns(part=pl.col("infant_id").hash(seed=0) % cohort.parts_count)
    for (part,), mine in by_part.partition_by("part", as_dict=True).items():
        folder = work / f"part-{part:04d}"
        folder.mkdir(exist_ok=True)
        write_whole(mine.drop("part"), folder / f"rows-{number:06d}.parquet")
    return ChunkSplit(
        rows_count=len(rows), unattributed_rows_count=len(rows) - len(kept), problems=wrong
    )


def assess_folder(folder: Path, as_of: datetime | None, sites: Sites) -> tuple[int, pl.DataFrame]:
    """Assess one part and write its result beside it: how many infants, and the problems.

    The answers are written last: where they are, the part is done.
    """
    rows, problems = assess_part(rows_of(folder), setting(), as_of, sites)
    write_whole(problems, problems_of(folder))
    write_whole(rows, answers_of(folder))
    return len(rows), problems


def rows_of(folder: Path) -> pl.DataFrame:
    """All rows of a part."""
    files = sorted(folder.glob("rows-*.parquet"))
    return pl.concat([pl.read_parquet(file) for file in files], rechunk=True)


def parts_of(work: Path) -> list[Path]:
    """The folders of the parts that hold rows, in order."""
    return sorted(folder for folder in work.glob("part-*") if folder.is_dir())


def answers_of(folder: Path) -> Path:
    """The file of a part's answers."""
    return folder.with_suffix(".answers.parquet")


def problems_of(folder: Path) -> Path:
    """The file of a part's problems."""
    return folder.with_suffix(".problems.parquet")


def join(folders: Sequence[Path], whole: Path) -> None:
    """The answers of all parts in one file, which appears whole or not at all."""
    made = _beside(whole)
    if folders:
        pl.scan_parquet([answers_of(folder) for folder in folders]).sink_parquet(made)
    else:
        nothing, _ = assess_part(checked_nothing(), setting(), None)
        nothing.write_parquet(made)
    made.replace(whole)


def write_whole(rows: pl.DataFrame, path: Path) -> None:
    """Write a file that appears whole or not at all, whoever else writes the same."""
    made = _beside(path)
    try:
        rows.write_parquet(made)
        made.replace(path)
    finally:
        made.unlink(missing_ok=True)


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{uuid4().hex}")


@cache
def setting() -> BatchSetting:
    """The setting of this process."""
    return batch_setting(load())
