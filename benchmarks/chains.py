"""What the hash chains and the trail cost: an append with and without, the checks, a noted event."""

from __future__ import annotations

from benchmarks.pages import on_each_engine
from benchmarks.result import Result

MOST_APPEND_RATIO = 1.5
LOOK_S = 3.0
MOST_NOTE_MS = 1.0
LEAST_ROWS_PER_S = 20_000


def run() -> list[Result]:
    results = []
    for engine, found in on_each_engine("benchmarks.chains_load"):
        one = f"{found['without_ms']:.2f} ms without, {found['with_ms']:.2f} ms with, alternating"
        many = f"{found['bulk_without_s']:.1f} s without, {found['bulk_with_s']:.1f} s with"
        whole = f"of processor time; {found['rows']:,} rows in {found['verify_s']:.1f} s"
        results += [
            Result(f"one entry appended, against without a chain ({engine})",
                   found["with_ms"] / found["without_ms"], "times", MOST_APPEND_RATIO, detail=one),
            Result(f"{found['bulk']:,} entries imported, against without ({engine})",
                   found["bulk_with_s"] / found["bulk_without_s"], "times", MOST_APPEND_RATIO,
                   detail=many),
            Result(f"whole check ({engine})", found["rows"] / found["verify_cpu_s"], "rows/s",
                   LEAST_ROWS_PER_S, at_least=True, detail=whole),
            Result(f"memory of the whole check ({engine})", found["verify_mb"], "MB"),
            Result(f"quick look at the start ({engine})", found["look_s"], "s", LOOK_S + 1,
                   detail=f"{found['looked']} links in at most {LOOK_S:g} s"),
            Result(f"an event noted while a page is answered ({engine})", found["note_ms"], "ms",
                   MOST_NOTE_MS, detail=f"forced to the disk: {found['forced_ms']:.2f} ms"),
            Result(f"events brought into the database ({engine})", found["flushed_per_s"], "/s"),
        ]  # fmt: skip
    return results
