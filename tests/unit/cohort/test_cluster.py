"""A cohort on a cluster of separate processes: the bits of one machine, whatever is lost on the way."""

from __future__ import annotations

import os
import re
import resource
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import dask
import polars as pl
import pytest
from distributed import Client, LocalCluster

from spoken import in_sentences
from suffice.cohort import cluster, stages
from suffice.cohort.run import assess_cohort
from suffice.errors import InputError
from unit.cohort.test_run import cohort_file

INFANTS = 60
CHUNK_ROWS, PART_ROWS = 80, 50
"""60 infants of five weights make 4 chunks and 6 parts."""


@pytest.fixture(autouse=True)
def _small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stages, "CHUNK_ROWS", CHUNK_ROWS)
    monkeypatch.setattr(stages, "PART_ROWS", PART_ROWS)


@contextmanager
def two_workers() -> Iterator[LocalCluster]:
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
    ) as started:
        with Client(started) as client:
            client.wait_for_workers(2)
        yield started


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with two_workers() as started:
        yield str(started.scheduler_address)


@pytest.fixture
def cohort(tmp_path: Path) -> Path:
    return cohort_file(tmp_path, INFANTS, site="hill")


def pids(workers: LocalCluster) -> list[int]:
    return [nanny.pid for nanny in workers.workers.values() if nanny.pid]


def on_one_machine(cohort: Path, **more: object) -> Path:
    return assess_cohort(cohort, cohort.with_name("one.parquet"), processes=1, **more).path  # type: ignore[arg-type]


def once_at(stage: str, act: Callable[[], None]) -> Callable[[str, int, int], None]:
    """Told of progress; acts once, when the first piece of a stage is done."""
    done: list[str] = []

    def watch(at: str, count: int, total: int) -> None:
        del count, total
        if at == stage and not done:
            done.append(at)
            act()

    return watch


def same(one: Path, other: Path) -> None:
    """To the bit: all answers in the same order, and the same problems."""
    assert pl.read_parquet(one).equals(pl.read_parquet(other), null_equal=True)
    written = [path.with_suffix(".problems.csv").read_bytes() for path in (one, other)]
    assert written[0] == written[1]


@pytest.mark.parametrize("pool_sites", [False, True])
def test_it_gives_the_bits_of_one_machine(address: str, cohort: Path, pool_sites: bool) -> None:
    there = cluster.assess_on_cluster(
        cohort, cohort.with_name("there.parquet"), scheduler=address, pool_sites=pool_sites
    )
    same(on_one_machine(cohort, pool_sites=pool_sites), there.path)
    assert f"{INFANTS} infants from 300 rows" in in_sentences(there.summary)
    assert sorted(file.name for file in cohort.parent.iterdir()) == [
        "cohort.parquet",
        "one.parquet",
        "one.problems.csv",
        "there.parquet",
        "there.problems.csv",
    ]


def test_however_the_input_is_divided_into_files(address: str, cohort: Path) -> None:
    rows = pl.read_parquet(cohort)
    pieces = cohort.with_name("pieces")
    pieces.mkdir()
    for number, start in enumerate((0, 7, 150)):
        stop = (7, 150, len(rows))[number]
        rows[start:stop].write_parquet(pieces / f"{number}.parquet")
    there = cluster.assess_on_cluster(pieces, cohort.with_name("there.parquet"), scheduler=address)
    same(on_one_machine(cohort), there.path)


@pytest.mark.parametrize("stage", ["reading", "assessing"])
def test_a_worker_that_is_killed_loses_nothing(cohort: Path, stage: str) -> None:
    """On workers of its own: whether the lost one is replaced, and when, is the cluster's affair."""
    with two_workers() as workers:

        def kill() -> None:
            os.kill(pids(workers)[0], signal.SIGKILL)

        there = cluster.assess_on_cluster(
            cohort,
            cohort.with_name("there.parquet"),
            scheduler=str(workers.scheduler_address),
            progress=once_at(stage, kill),
        )
    same(on_one_machine(cohort), there.path)


def test_a_part_that_cannot_be_read_is_named_and_the_others_are_kept(
    address: str, cohort: Path
) -> None:
    path_out = cohort.with_name("there.parquet")
    work = path_out.with_name(".there.parquet.run")
    kept: dict[Path, bytes] = {}

    def spoil() -> None:
        file = next(iter(sorted(work.glob("part-0003/rows-*.parquet"))))
        kept[file] = file.read_bytes()
        file.write_bytes(b"no Parquet")

    def finished(stage: str, count: int, total: int) -> None:
        if stage == "reading" and count == total:
            spoil()

    with pytest.raises(InputError, match="BATCH-010") as refused:
        cluster.assess_on_cluster(cohort, path_out, scheduler=address, progress=finished)
    assert "1 of 6 pieces of work" in str(refused.value)
    assert "part-0003 (ComputeError)" in str(refused.value)
    assert not path_out.exists()
    done = {file: file.stat().st_mtime_ns for file in work.glob("part-*.answers.parquet")}
    assert len(done) == 5

    (file, before) = next(iter(kept.items()))
    file.write_bytes(before)
    seen = []
    there = cluster.assess_on_cluster(
        cohort, path_out, scheduler=address, progress=lambda *step: seen.append(step)
    )
    assert seen == [("assessing", 6, 6)], "only what was missing is done again"
    same(on_one_machine(cohort), there.path)
    assert not work.exists()


def test_a_full_disk_is_told_and_nothing_finished_is_lost(address: str, cohort: Path) -> None:
    path_out = cohort.with_name("there.parquet")

    def limit(size: int) -> None:
        with Client(address) as client:
            client.run(_limit_files, size)

    fill = once_at("assessing", lambda: limit(64))
    try:
        with pytest.raises(InputError, match="BATCH-010") as refused:
            cluster.assess_on_cluster(cohort, path_out, scheduler=address, progress=fill)
    finally:
        limit(resource.RLIM_INFINITY)
    assert re.search(r"OSError|ComputeError", str(refused.value))
    assert not path_out.exists()
    there = cluster.assess_on_cluster(cohort, path_out, scheduler=address)
    same(on_one_machine(cohort), there.path)


def _limit_files(size: int) -> None:
    """On a worker: no file may grow beyond so many bytes."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def test_what_is_left_of_another_question_is_not_taken_up(address: str, cohort: Path) -> None:
    path_out = cohort.with_name("there.parquet")
    work = path_out.with_name(".there.parquet.run")
    work.mkdir()
    (work / "job.json").write_text("{}")
    (work / "part-0000.answers.parquet").write_bytes(b"of another run")
    there = cluster.assess_on_cluster(cohort, path_out, scheduler=address)
    same(on_one_machine(cohort), there.path)


def test_where_no_scheduler_answers_it_is_said(
    cohort: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 1)
    with pytest.raises(InputError, match="BATCH-008"):
        cluster.assess_on_cluster(
            cohort, cohort.with_name("there.parquet"), scheduler="tcp://127.0.0.1:9"
        )


def test_workers_of_another_version_are_refused(
    address: str, cohort: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "version_here", _another_version)
    with pytest.raises(InputError, match="BATCH-009"):
        cluster.assess_on_cluster(cohort, cohort.with_name("there.parquet"), scheduler=address)


def _another_version() -> str:
    return f"engine of process {os.getpid()}"


_FAULTS = """
import resource
import numpy as np
from suffice.cohort.cluster import keep_memory

def pages_asked_for():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(40):
        np.ones(2_000_000)  # so large that nothing freed by imports holds it
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before

print(pages_asked_for(), keep_memory(), pages_asked_for())
"""


def test_a_worker_keeps_the_memory_that_its_arrays_free() -> None:
    """Dask's workers are started with this setting, which gives back every freed array."""
    told = subprocess.run(
        [sys.executable, "-c", _FAULTS],
        env={**os.environ, "MALLOC_TRIM_THRESHOLD_": "65536"},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    before, is_kept, after = told.stdout.split()
    if is_kept == "False":
        pytest.skip("the C library of this system cannot be told")
    assert int(before) > 5000
    assert int(after) < int(before) / 5


def test_the_processes_of_a_local_cluster_look_round_seldom() -> None:
    with cluster._connected(cluster.LOCAL, 1) as connection:
        for name, value in cluster.QUIET.items():
            assert list(connection.run(dask.config.get, name).values()) == [value]
