"""How long a save waits while a large table is imported, on SQLite and on PostgreSQL."""

from __future__ import annotations

from benchmarks.pages import on_each_engine
from benchmarks.result import Result

LONGEST_S = 2.0


def run() -> list[Result]:
    results = []
    for engine, found in on_each_engine("benchmarks.import_load"):
        how = (
            f"{found['saves']} saves beside {found['entries']:,} entries in {found['took_s']:.0f} s"
        )
        results.append(
            Result(f"longest save during an import ({engine})", found["longest_s"], "s", LONGEST_S,
                   detail=how)
        )  # fmt: skip
    return results
