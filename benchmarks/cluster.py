"""200,000 infants through `suffice batch --scheduler local`: seconds and memory, for 1 and 2 workers.

The cohort is that of the batch benchmark, in four Parquet files. Workers are processes of their own,
with one thread each; memory is the peak resident size of the largest one, as the system counts it. What an
infant costs is the processor time of all workers and of the command, which other programs change less than the clock.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.batch import cohort
from benchmarks.result import Result

COUNT = 200_000
FILES = 4
_RUN = """
import json, os, sys, time
from pathlib import Path
import dask
from distributed import Client, LocalCluster
from suffice.cohort.cluster import QUIET, assess_on_cluster

dask.config.set(QUIET)

def peak_mb():
    line = next(x for x in open("/proc/self/status") if x.startswith("VmHWM"))
    return int(line.split()[1]) / 1024

if __name__ == "__main__":
    busy = os.getloadavg()[0]
    with LocalCluster(n_workers=int(sys.argv[3]), threads_per_worker=1, processes=True,
                      host="127.0.0.1", dashboard_address=None) as cluster:
        start = time.perf_counter()
        result = assess_on_cluster(
            Path(sys.argv[1]), Path(sys.argv[2]), scheduler=cluster.scheduler_address
        )
        seconds = time.perf_counter() - start
        with Client(cluster) as client:
            worker_mb = max(client.run(peak_mb).values())
            worker_s = sum(client.run(time.process_time).values())
    print(json.dumps({"seconds": seconds, "infants": result.infants_count,
                      "worker_mb": worker_mb, "command_mb": peak_mb(),
                      "processor_s": worker_s + time.process_time(), "load": busy}))
"""


def run() -> list[Result]:
    results = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        pieces, script = folder / "cohort", folder / "run_cluster.py"
        pieces.mkdir()
        script.write_text(_RUN, encoding="utf-8")
        rows = cohort(COUNT)
        size = -(-len(rows) // FILES)
        for number in range(FILES):
            rows[number * size : (number + 1) * size].write_parquet(pieces / f"{number}.parquet")
        for workers in (1, 2):
            told = folder / f"{workers}.parquet"
            done = subprocess.run(
                [sys.executable, script, pieces, told, str(workers)],
                capture_output=True, text=True, check=True,
            )  # fmt: skip
            found = json.loads(done.stdout.splitlines()[-1])
            detail = (
                f"{found['infants']:,} infants; largest worker {found['worker_mb']:.0f} MB,"
                f" command {found['command_mb']:.0f} MB; load {found['load']:.1f} at the start"
            )
            results += [
                Result(
                    f"{COUNT:,} infants, {workers} worker(s)", found["seconds"], "s", detail=detail
                ),
                Result(
                    f"one infant, {workers} worker(s)",
                    1000 * found["processor_s"] / found["infants"],
                    "ms of one core",
                    0.5,
                ),
            ]
    return results
