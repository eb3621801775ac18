"""`suffice batch FILE.parquet -o OUT.parquet`: a cohort assessed out of core.

```
FILE.parquet ──rows in chunks──> checked rows ──by infant──> parts ──two processes──> OUT.parquet
                                      └─ what is wrong, with row numbers ──> OUT.problems.csv
```

All rows of an infant land in one part, whatever their order in the file; no part and no chunk grows
with the cohort, so memory stays flat. The result has one row an infant (columns:
docs/reference/forecast.md), ordered by part and within it by infant_id.
"""

from __future__ import annotations

import math
import shutil
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import Future, as_completed
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import polars as pl

from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.cohort.part import BatchSetting, Sites, assess_part, batch_setting, gather
from suffice.cohort.rows import (
    PROBLEM_SCHEMA,
    aware,
    check_columns,
    checked,
    checked_nothing,
)
from suffice.cohort.site import Sample, sites_told
from suffice.errors import InputError, Problem
from suffice.knowledge.store import load
from suffice.message import Amount, Message, Number, message
from suffice.processes import processes as pool_of

CHUNK_ROWS = 50_000
PART_ROWS = 10_000
MOST_PARTS = 512

STAGES = ("reading", "learning the sites", "assessing")
Progress = Callable[[str, int, int], None]
"""Told the stage (one of `STAGES`), how much is done, and of how much."""


@dataclass(frozen=True, kw_only=True)
class BatchResult:
    """What a run did.

    Attributes:
        path: The result, one row an infant.
        problems_path: The problems, one row each, with row numbers.
        rows_count: Rows read.
        infants_count: Infants in the answer.
        problems_count: Problems said.
        unattributed_rows_count: Rows that name no infant; they stand in the problems only.
        sites: What was learned of each site; empty where sites were not pooled.
    """

    path: Path
    problems_path: Path
    rows_count: int
    infants_count: int
    problems_count: int
    unattributed_rows_count: int
    sites: pl.DataFrame

    @property
    def summary(self) -> tuple[Message, ...]:
        """What was done, a sentence a line."""
        unattributed = self.unattributed_rows_count
        lines = [
            message(
                "{infants} from {rows}: {path}.",
                infants=_infants(self.infants_count),
                rows=message("{count} row", plural="{count} rows", count=self.rows_count),
                path=str(self.path),
            ),
            message(
                "{count} problem: {path}.",
                plural="{count} problems: {path}.",
                count=self.problems_count,
                path=str(self.problems_path),
            ),
        ]
        if unattributed:
            lines.append(
                message(
                    "{count} row names no infant.",
                    plural="{count} rows name no infant.",
                    count=unattributed,
                )
            )
        lines.extend(_site_line(site) for site in self.sites.iter_rows(named=True))
        return tuple(lines)


def _infants(count: int) -> Message:
    return message("{count} infant", plural="{count} infants", count=count)


def _site_line(site: dict[str, Any]) -> Message:
    return message(
        "Site {site}, from {infants}: noise of a weight {noise}, spread of growth {spread} times"
        " the default, gross errors {errors} of weights.",
        site=site["site"],
        infants=_infants(site["infants_count"]),
        noise=Amount(site["noise_sd_g"], "g"),
        spread=Number(site["spread_factor"], 2),
        errors=Amount(100 * site["gross_errors_fraction"], "%", decimals=1),
    )


def assess_cohort(
    path_in: Path,
    path_out: Path,
    *,
    as_of: datetime | None = None,
    pool_sites: bool = False,
    processes: int = 2,
    progress: Progress | None = None,
) -> BatchResult:
    """Every infant of a Parquet file assessed; the result is written in one piece at the end.

    Args:
        path_in: One row a weight; see :mod:`suffice.cohort.rows` for the columns.
        path_out: The result. Beside it, under the same name, stands ``.problems.csv``.
        as_of: The instant of the question; None: each infant as of its last weight.
        pool_sites: Learn from a sample of each site's infants how growth there departs from the
            default, and use it for that site's other infants; needs the column ``site``.
        processes: How many processes assess.
        progress: Told how far the run is.

    Raises:
        InputError: BATCH-001 to BATCH-004 when the file or the instant cannot be used, BATCH-005
            when the result would overwrite the file that is read, BATCH-006 without a column of
            sites to pool.
    """
    aware(as_of)
    _keep_apart(path_in, path_out)
    columns = check_columns(path_in)
    if pool_sites and "site" not in columns:
        raise InputError(_no_sites())
    total = int(pl.scan_parquet(path_in).select(pl.len()).collect().item())
    problems_path = path_out.with_suffix(".problems.csv")
    say = progress or _unwatched
    path_out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".batch-", dir=path_out.parent) as folder:
        work = Path(folder)
        problems = _ProblemFile(work / "problems.csv")
        unattributed = _split(path_in, total, work, problems, say)
        sites = _learn(work, as_of, say) if pool_sites else {}
        infants = _assess(work, as_of, sites, processes, problems, say)
        _join(work, path_out)
        problems.close()
        shutil.move(work / "problems.csv", problems_path)
    return BatchResult(
        path=path_out,
        sites=sites_told(sites),
        problems_path=problems_path,
        rows_count=total,
        infants_count=infants,
        problems_count=problems.count,
        unattributed_rows_count=unattributed,
    )


class _ProblemFile:
    """The problems of a run, written as they are found."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("wb")
        self.count = 0
        pl.DataFrame(schema=PROBLEM_SCHEMA).write_csv(self._file)

    def add(self, problems: pl.DataFrame) -> None:
        """Append some."""
        problems.write_csv(self._file, include_header=False)
        self.count += len(problems)

    def close(self) -> None:
        """Finish the file."""
        self._file.close()


def _unwatched(stage: str, done: int, total: int) -> None:
    """Nobody listens."""


def _keep_apart(path_in: Path, path_out: Path) -> None:
    if path_in.resolve() == path_out.resolve():
        raise InputError(
            Problem(
                code="BATCH-005",
                what=message("{file} is the file that is read.", file=path_out.name),
                why=message("The result must not overwrite what it was made from."),
                fix=message("Name another file with -o."),
            )
        )


def _split(path: Path, total: int, work: Path, problems: _ProblemFile, say: Progress) -> int:
    """Write checked rows to a folder for each part; the number of rows that name no infant."""
    limits = PlausibilityLimits.from_content(load().flat, load().series)
    last_age_d = _setting().reference.last_day
    parts = min(max(math.ceil(total / PART_ROWS), 1), MOST_PARTS)
    unattributed = 0
    for chunk, rows in enumerate(_chunks(path, total)):
        kept, wrong = checked(rows, limits, last_age_d)
        problems.add(wrong)
        unattributed += len(rows) - len(kept)
        by_part = kept.with_columns(part=pl.col("infant_id").hash(seed=0) % parts)
        for (part,), mine in by_part.partition_by("part", as_dict=True).items():
            folder = work / f"part-{part:04d}"
            folder.mkdir(exist_ok=True)
            mine.drop("part").write_parquet(folder / f"rows-{chunk:06d}.parquet")
        say("reading", min((chunk + 1) * CHUNK_ROWS, total), total)
    return unattributed


def _chunks(path: Path, total: int) -> Iterator[pl.DataFrame]:
    """The rows in pieces, numbered from 1."""
    rows = pl.scan_parquet(path)
    for start in range(0, total, CHUNK_ROWS):
        # In one block each: see suffice.cohort.rows.checked.
        piece = rows.slice(start, CHUNK_ROWS).collect().rechunk()
        yield piece.with_row_index("row", offset=start + 1)


def _no_infants() -> pl.DataFrame:
    """A result without infants, with all its columns."""
    rows, _ = assess_part(checked_nothing(), _setting(), None)
    return rows


def _no_sites() -> Problem:
    return Problem(
        code="BATCH-006",
        what=message("No column site."),
        why=message("Sites can be pooled only where each row names its site."),
        fix=message("Add the column, or run without pooling."),
    )


def _learn(work: Path, as_of: datetime | None, say: Progress) -> Sites:
    """What a sample of each site's infants says of it."""
    setting = _setting()
    sample = Sample(setting.sample_infants)
    folders = sorted(work.glob("part-*"))
    for done, folder in enumerate(folders, start=1):
        sample.add(gather(_rows_of(folder), setting, as_of))
        say("learning the sites", done, len(folders))
    return sample.learn(setting)


def _assess(
    work: Path,
    as_of: datetime | None,
    sites: Sites,
    processes: int,
    problems: _ProblemFile,
    say: Progress,
) -> int:
    """Assess every part; the number of infants. Problems are added in the order of the parts."""
    folders = sorted(work.glob("part-*"))
    done: dict[Path, tuple[int, pl.DataFrame]] = {}
    for folder, counted in _assessed_parts(folders, as_of, sites, processes):
        done[folder] = counted
        say("assessing", len(done), len(folders))
    for folder in folders:
        problems.add(done[folder][1])
    return sum(count for count, _ in done.values())


def _assessed_parts(
    folders: list[Path], as_of: datetime | None, sites: Sites, processes: int
) -> Iterator[tuple[Path, tuple[int, pl.DataFrame]]]:
    """Each part's number of infants and problems, in whatever order they are done."""
    if processes <= 1 or len(folders) <= 1:
        for folder in folders:
            yield folder, _assess_folder(folder, as_of, sites)
        return
    # Spawned: a forked process would inherit the locks of polars' threads.
    with pool_of(processes) as pool:
        waiting: dict[Future[tuple[int, pl.DataFrame]], Path] = {
            pool.submit(_assess_folder, folder, as_of, sites): folder for folder in folders
        }
        for future in as_completed(waiting):
            yield waiting[future], future.result()


def _assess_folder(folder: Path, as_of: datetime | None, sites: Sites) -> tuple[int, pl.DataFrame]:
    """Assess one part and write its result beside it."""
    rows, problems = assess_part(_rows_of(folder), _setting(), as_of, sites)
    rows.write_parquet(folder.with_suffix(".answers.parquet"))
    return len(rows), problems


def _rows_of(folder: Path) -> pl.DataFrame:
    """All rows of a part."""
    files = sorted(folder.glob("*.parquet"))
    return pl.concat([pl.read_parquet(file) for file in files], rechunk=True)


@cache
def _setting() -> BatchSetting:
    """The setting of this process."""
    return batch_setting(load())


def _join(work: Path, path_out: Path) -> None:
    """All results in one file, which appears whole or not at all."""
    files = sorted(work.glob("*.answers.parquet"))
    whole = work / "whole.parquet"
    if files:
        pl.scan_parquet(files).sink_parquet(whole)
    else:
        _no_infants().write_parquet(whole)
    whole.replace(path_out)
