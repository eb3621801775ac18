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

import shutil
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import Future, as_completed
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl

from suffice.cohort.part import EVERYWHERE, Sites, gather
from suffice.cohort.rows import PROBLEM_SCHEMA, aware
from suffice.cohort.site import Sample, SiteBelief, sites_table
from suffice.cohort.stages import (
    Cohort,
    assess_folder,
    cohort_of,
    join,
    parts_of,
    rows_of,
    setting,
    split_chunk,
)
from suffice.errors import InputError, Problem
from suffice.inference.growth.prior import SiteShift
from suffice.message import Amount, Message, Number, message
from suffice.processes import processes as pool_of

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
    usual: SiteShift | None = None,
    processes: int = 2,
    progress: Progress | None = None,
) -> BatchResult:
    """Every infant of a Parquet file assessed; the result is written in one piece at the end.

    Args:
        path_in: A file or a folder of files, one row a weight; see :mod:`suffice.cohort.rows` for
            the columns.
        path_out: The result. Beside it, under the same name, stands ``.problems.csv``.
        as_of: The instant of the question; None: each infant as of its last weight.
        pool_sites: Learn from a sample of each site's infants how growth there departs from the
            default, and use it for that site's other infants; needs the column ``site``.
        usual: What is believed of every site of which nothing else is known; None: nothing.
        processes: How many processes assess.
        progress: Told how far the run is.

    Raises:
        InputError: BATCH-001 to BATCH-004 when the file or the instant cannot be used, BATCH-005
            when the result would overwrite the file that is read, BATCH-006 without a column of
            sites to pool, BATCH-007 for files of a folder that do not go together.
    """
    cohort = asked_cohort(path_in, path_out, as_of, pool_sites=pool_sites)
    problems_path = path_out.with_suffix(".problems.csv")
    say = progress or unwatched
    path_out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".batch-", dir=path_out.parent) as folder:
        work = Path(folder)
        problems = ProblemFile(work / "problems.csv")
        unattributed = _split(cohort, work, problems, say)
        sites = learn_sites(parts_of(work), as_of, say) if pool_sites else {}
        believed = with_usual(sites, usual)
        infants = _assess(work, as_of, believed, processes, problems, say)
        join(parts_of(work), work / "whole.parquet")
        (work / "whole.parquet").replace(path_out)
        problems.close()
        shutil.move(work / "problems.csv", problems_path)
    return BatchResult(
        path=path_out,
        sites=sites_table(sites),
        problems_path=problems_path,
        rows_count=cohort.rows_count,
        infants_count=infants,
        problems_count=problems.count,
        unattributed_rows_count=unattributed,
    )


def asked_cohort(
    path_in: Path, path_out: Path, as_of: datetime | None, *, pool_sites: bool
) -> Cohort:
    """The cohort of a run whose question can be asked; raises as :func:`assess_cohort` says."""
    aware(as_of)
    _keep_apart(path_in, path_out)
    cohort = cohort_of(path_in)
    if pool_sites and "site" not in cohort.columns:
        raise InputError(_no_sites())
    return cohort


def with_usual(sites: Sites, usual: SiteShift | None) -> Sites:
    """The sites, and what is believed of every other one where that is given."""
    return sites if usual is None else {**sites, EVERYWHERE: SiteBelief.of_all(usual)}


class ProblemFile:
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


def unwatched(stage: str, done: int, total: int) -> None:
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


def _split(cohort: Cohort, work: Path, problems: ProblemFile, say: Progress) -> int:
    """Write checked rows to a folder for each part; the number of rows that name no infant."""
    unattributed = done = 0
    for number in range(cohort.chunks_count):
        split = split_chunk(cohort, number, work)
        problems.add(split.problems)
        unattributed += split.unattributed_rows_count
        done += split.rows_count
        say("reading", done, cohort.rows_count)
    return unattributed


def _no_sites() -> Problem:
    return Problem(
        code="BATCH-006",
        what=message("No column site."),
        why=message("Sites can be pooled only where each row names its site."),
        fix=message("Add the column, or run without pooling."),
    )


def learn_sites(folders: list[Path], as_of: datetime | None, say: Progress) -> Sites:
    """What a sample of each site's infants says of it."""
    sample = Sample(setting().sample_infants)
    for done, folder in enumerate(folders, start=1):
        sample.add(gather(rows_of(folder), setting(), as_of))
        say("learning the sites", done, len(folders))
    return sample.learn(setting())


def _assess(
    work: Path,
    as_of: datetime | None,
    sites: Sites,
    processes: int,
    problems: ProblemFile,
    say: Progress,
) -> int:
    """Assess every part; the number of infants. Problems are added in the order of the parts."""
    folders = parts_of(work)
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
            yield folder, assess_folder(folder, as_of, sites)
        return
    # Spawned: a forked process would inherit the locks of polars' threads.
    with pool_of(processes) as pool:
        waiting: dict[Future[tuple[int, pl.DataFrame]], Path] = {
            pool.submit(assess_folder, folder, as_of, sites): folder for folder in folders
        }
        for future in as_completed(waiting):
            yield waiting[future], future.result()
