"""`suffice batch --scheduler ...`: the stages of a cohort's run on the workers of a dask cluster.

```
command ──chunks──> workers ──> .OUT.parquet.run/part-*/rows-*.parquet
        ──parts───> workers ──> .OUT.parquet.run/part-*.answers.parquet ──> OUT.parquet
```

Input and output lie on a path that the command and all workers see. What a worker has finished is a
file there, written whole or not at all, so that nothing depends on a worker that is lost: the
scheduler gives its work to another, and the same command, run again, does only what is missing. The
answers are those of one machine, to the bit, because chunks and parts are the same.

Everything of the dask libraries is imported here and only here (the extra `cluster`).
"""

from __future__ import annotations

import ctypes
import os
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import msgspec
import polars as pl

from suffice.assess.engine.version import ENGINE_VERSION
from suffice.cohort.part import Sites
from suffice.cohort.run import (
    BatchResult,
    ProblemFile,
    Progress,
    asked_cohort,
    learn_sites,
    unwatched,
    with_usual,
)
from suffice.cohort.site import sites_table
from suffice.cohort.stages import (
    Cohort,
    answers_of,
    assess_folder,
    join,
    parts_of,
    problems_of,
    split_chunk,
    write_whole,
)
from suffice.errors import InputError, Problem
from suffice.inference.growth.prior import SiteShift
from suffice.knowledge.store import load
from suffice.message import Listed, message

if TYPE_CHECKING:
    from distributed import Client, Future

LOCAL = "local"
"""Instead of an address: a cluster of processes on this machine, for the length of the run."""
CONNECT_S = 20
MOST_SHOWN = 5
"""So many failures are named one by one."""
KEPT_BYTES = 64 * 1024**2
"""Freed memory that a worker keeps for its next arrays."""
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""The names of these options of `mallopt` in the C library."""
LARGEST_KEPT_BYTES = 32 * 1024**2
"""The largest array that comes out of such memory: the most that the C library takes."""
QUIET: Final = {
    # Its profiler looks at every worker a hundred times a second: a tenth of the time of a run.
    "distributed.worker.profile.enabled": False,
    # Fifty, ten and two looks a second at what one part after the other hardly changes; each of
    # them costs all the more the longer a run waits for a busy machine.
    "distributed.admin.tick.interval": "1s",
    "distributed.worker.memory.monitor-interval": "2s",
    "distributed.admin.system-monitor.interval": "10s",
}
"""Settings of dask with which its processes, while nothing is done, do little."""


class Job(msgspec.Struct, frozen=True, kw_only=True):
    """What a folder of unfinished work belongs to; another question begins anew.

    Attributes:
        files: Path, size in bytes and time of change (ns) of each input file.
        chunk_rows: Rows of a chunk.
        parts_count: Into how many parts infants are divided.
        as_of: Instant of the question in ISO form; empty for each infant's last weight.
        pool_sites: Whether sites are learned.
        usual: Digest of what is believed of every site; empty for nothing.
        version: Engine and content that answer.
    """

    files: tuple[tuple[str, int, int], ...]
    chunk_rows: int
    parts_count: int
    as_of: str
    pool_sites: bool
    usual: str
    version: str


class ChunkNote(msgspec.Struct, frozen=True, kw_only=True):
    """What is left of a chunk that was split: written last, so its rows and problems are there."""

    rows_count: int
    unattributed_rows_count: int


@dataclass(frozen=True)
class Failure:
    """A chunk or part that no worker could finish, and why, without any value of a row."""

    name: str
    why: str


def version_here() -> str:
    """The engine and the content with which this process answers."""
    return f"{ENGINE_VERSION} {load().digest}"


def assess_on_cluster(
    path_in: Path,
    path_out: Path,
    *,
    scheduler: str,
    as_of: datetime | None = None,
    pool_sites: bool = False,
    usual: SiteShift | None = None,
    workers: int = 2,
    progress: Progress | None = None,
) -> BatchResult:
    """Every infant of Parquet files assessed on a cluster; the result is written in one piece.

    Args:
        path_in: A Parquet file or a folder of them, on a path that all workers see.
        path_out: The result, on such a path too. Beside it stands ``.problems.csv``.
        scheduler: Address of a dask scheduler, or ``local``.
        as_of: The instant of the question; None: each infant as of its last weight.
        pool_sites: Learn each site from a sample of its infants; done here, not on the workers.
        usual: What is believed of every site of which nothing else is known; None: nothing.
        workers: Processes of a local cluster.
        progress: Told how far the run is.

    Raises:
        InputError: as :func:`suffice.cohort.run.assess_cohort`; BATCH-008 no scheduler answers,
            BATCH-009 a worker is of another version, BATCH-010 something could not be finished,
            BATCH-011 the extra `cluster` is not installed.
    """
    # Workers look for the files by their whole paths.
    path_in, path_out = path_in.resolve(), path_out.resolve()
    cohort = asked_cohort(path_in, path_out, as_of, pool_sites=pool_sites)
    work = path_out.with_name(f".{path_out.name}.run")
    path_out.parent.mkdir(parents=True, exist_ok=True)
    _begin(work, _job_of(cohort, as_of, pool_sites=pool_sites, usual=usual))
    say = progress or unwatched
    with _connected(scheduler, workers) as connection:
        _check_versions(connection)
        _split(connection, cohort, work, say)
        sites = learn_sites(parts_of(work), as_of, say) if pool_sites else {}
        _assess(connection, work, as_of, with_usual(sites, usual), say)
    return _finished(cohort, work, path_out, sites)


def _job_of(
    cohort: Cohort, as_of: datetime | None, *, pool_sites: bool, usual: SiteShift | None
) -> Job:
    return Job(
        files=tuple(
            (str(file), file.stat().st_size, file.stat().st_mtime_ns) for file in cohort.files
        ),
        chunk_rows=cohort.chunk_rows,
        parts_count=cohort.parts_count,
        as_of="" if as_of is None else as_of.isoformat(),
        pool_sites=pool_sites,
        usual="" if usual is None else sha256(repr(usual).encode()).hexdigest(),
        version=version_here(),
    )


def _begin(work: Path, job: Job) -> None:
    """Take up what is left of the same run; what is left of another is removed."""
    note = work / "job.json"
    written = msgspec.json.encode(job)
    if note.exists() and note.read_bytes() == written:
        return
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir()
    _write_note(note, written)


def _write_note(path: Path, written: bytes) -> None:
    made = path.with_name(f".{path.name}.{os.getpid()}")
    made.write_bytes(written)
    made.replace(path)


@contextmanager
def _connected(scheduler: str, workers: int) -> Iterator[Client]:
    """A connection to the cluster for the length of the block."""
    try:
        from distributed import Client, LocalCluster  # noqa: PLC0415 -- the extra `cluster`
    except ImportError as error:
        raise InputError(_not_installed()) from error
    if scheduler != LOCAL:
        try:
            connection = Client(scheduler, timeout=CONNECT_S)
        except (OSError, ValueError) as error:
            raise InputError(_no_scheduler(scheduler)) from error
        with connection:
            yield connection
        return
    import dask  # noqa: PLC0415 -- the extra `cluster`

    with (
        dask.config.set(QUIET),
        LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address=None,
            # Any free port: beside another local cluster the usual one is taken, with a warning.
            scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
        ) as cluster,
        Client(cluster) as connection,
    ):
        yield connection


def _check_versions(connection: Client) -> None:
    """Refuse workers whose engine or content would answer otherwise."""
    others = {
        str(worker)
        for worker, version in connection.run(version_here).items()
        if version != version_here()
    }
    if others:
        raise InputError(
            Problem(
                code="BATCH-009",
                what=message(
                    "{workers} have another version.", workers=Listed(tuple(sorted(others)))
                ),
                why=message("All infants of a run are answered by one engine and one content."),
                fix=message("Install the same version of Suffice on every machine of the cluster."),
            )
        )


def _split(connection: Client, cohort: Cohort, work: Path, say: Progress) -> None:
    """Split the chunks that are not split yet."""
    missing = [n for n in range(cohort.chunks_count) if not _note_of(work, n).exists()]
    done = cohort.chunks_count - len(missing)
    tasks = {
        f"chunk {number + 1}": connection.submit(_split_here, cohort, number, work, pure=False)
        for number in missing
    }

    def rows_read(count: int) -> None:
        rows = min((done + count) * cohort.chunk_rows, cohort.rows_count)
        say("reading", rows, cohort.rows_count)

    _await_all(tasks, work, rows_read)


def _split_here(cohort: Cohort, number: int, work: Path) -> None:
    """On a worker: split a chunk, and note that it is done."""
    keep_memory()
    split = split_chunk(cohort, number, work)
    note = _note_of(work, number)
    write_whole(split.problems, note.with_suffix(".problems.parquet"))
    _write_note(
        note,
        msgspec.json.encode(
            ChunkNote(
                rows_count=split.rows_count,
                unattributed_rows_count=split.unattributed_rows_count,
            )
        ),
    )


@cache
def keep_memory() -> bool:
    """Let this process keep some of the memory that it frees; whether its C library was told so.

    Dask starts its workers so that every freed array goes back to the system, and all pages of the next one
    are asked for anew. Here arrays come and go by the ten thousand: that cost as much as half of the arithmetic.
    """
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is None:
        return False
    kept = mallopt(_TRIM_THRESHOLD, KEPT_BYTES)
    return bool(kept and mallopt(_MMAP_THRESHOLD, LARGEST_KEPT_BYTES))


def _note_of(work: Path, number: int) -> Path:
    return work / f"chunk-{number:06d}.json"


def _assess(
    connection: Client, work: Path, as_of: datetime | None, sites: Sites, say: Progress
) -> None:
    """Assess the parts that have no answers yet."""
    folders = parts_of(work)
    missing = [folder for folder in folders if not answers_of(folder).exists()]
    known = connection.scatter(sites, broadcast=True) if sites else {}
    tasks = {
        folder.name: connection.submit(_assess_here, folder, as_of, known, pure=False)
        for folder in missing
    }
    done = len(folders) - len(missing)
    _await_all(tasks, work, lambda count: say("assessing", done + count, len(folders)))


def _assess_here(folder: Path, as_of: datetime | None, sites: Sites) -> None:
    """On a worker: assess a part; its answers are written last, and say that it is done."""
    keep_memory()
    assess_folder(folder, as_of, sites)


def _await_all(
    tasks: Mapping[str, Future[Any]], work: Path, finished: Callable[[int], None]
) -> None:
    """Wait for all tasks; `finished` is told after each how many are done.

    Raises:
        InputError: BATCH-010, when some failed; the others are done all the same.
    """
    failed, count = [], 0
    for outcome in _outcomes(tasks):
        if outcome is not None:
            failed.append(outcome)
            continue
        count += 1
        finished(count)
    _refuse(failed, len(tasks), work)


def _outcomes(tasks: Mapping[str, Future[Any]]) -> Iterator[Failure | None]:
    """What became of each task, in the order in which they end: None, or a failure."""
    from distributed import as_completed  # noqa: PLC0415 -- the extra `cluster`

    names = {future.key: name for name, future in tasks.items()}
    for future in as_completed(list(tasks.values())):
        name = names[future.key]
        if future.status == "finished":
            yield None
        else:
            yield Failure(name, _reason(future))


def _reason(future: Future[Any]) -> str:
    """Why a task failed, in words that hold nothing of a row."""
    if future.status != "error":
        return str(future.status)
    error = future.exception()
    words = type(error).__name__
    return f"{words}: {error.strerror}" if isinstance(error, OSError) and error.strerror else words


def _refuse(failed: Sequence[Failure], count: int, work: Path) -> None:
    if not failed:
        return
    shown = tuple(f"{one.name} ({one.why})" for one in sorted(failed, key=lambda one: one.name))
    raise InputError(
        Problem(
            code="BATCH-010",
            what=message(
                "{failed} of {count} pieces of work could not be finished.",
                failed=len(failed),
                count=count,
            ),
            why=message("{pieces}.", pieces=Listed(shown[:MOST_SHOWN])),
            fix=message(
                "Nothing that was finished is lost. Correct the cause and run the same command"
                " again: it does only what is missing. The work is kept in {folder}.",
                folder=str(work),
            ),
        )
    )


def _finished(cohort: Cohort, work: Path, path_out: Path, sites: Sites) -> BatchResult:
    """Join what the workers wrote, in the order of one machine, and remove their folder."""
    folders = parts_of(work)
    problems = ProblemFile(work / "problems.csv")
    unattributed = 0
    for number in range(cohort.chunks_count):
        note = _note_of(work, number)
        problems.add(pl.read_parquet(note.with_suffix(".problems.parquet")))
        unattributed += msgspec.json.decode(
            note.read_bytes(), type=ChunkNote
        ).unattributed_rows_count
    for folder in folders:
        problems.add(pl.read_parquet(problems_of(folder)))
    problems.close()
    join(folders, work / "whole.parquet")
    infants = int(pl.scan_parquet(work / "whole.parquet").select(pl.len()).collect().item())
    problems_path = path_out.with_suffix(".problems.csv")
    (work / "problems.csv").replace(problems_path)
    (work / "whole.parquet").replace(path_out)
    shutil.rmtree(work, ignore_errors=True)
    return BatchResult(
        path=path_out,
        problems_path=problems_path,
        rows_count=cohort.rows_count,
        infants_count=infants,
        problems_count=problems.count,
        unattributed_rows_count=unattributed,
        sites=sites_table(sites),
    )


def _not_installed() -> Problem:
    return Problem(
        code="BATCH-011",
        what=message("The libraries of a cluster are not installed."),
        why=message("Only those who use a cluster need them."),
        fix=message("Install suffice[cluster], on this machine and on those of the cluster."),
    )


def _no_scheduler(address: str) -> Problem:
    return Problem(
        code="BATCH-008",
        what=message("No scheduler answers at {address}.", address=address),
        why=message("The command hands its work to a scheduler of dask."),
        fix=message("Check the address and that `dask scheduler` runs there; `local` needs none."),
    )
