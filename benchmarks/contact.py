"""What a contact costs in which every question is answered, on SQLite and on PostgreSQL."""

from __future__ import annotations

from benchmarks.pages import on_each_engine
from benchmarks.result import Result


def run() -> list[Result]:
    return [
        Result(
            f"{row['name']} ({engine})",
            row["value"],
            row["unit"],
            row["target"],
            detail=row["detail"],
        )
        for engine, rows in on_each_engine("benchmarks.contact_load")
        for row in rows
    ]
