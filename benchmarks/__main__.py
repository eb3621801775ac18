"""`make bench`: every benchmark in one run, with its target and a verdict.

Usage: python -m benchmarks [NAME ...]
"""

from __future__ import annotations

import importlib
import os
import platform
import sys

from rich.console import Console
from rich.table import Table

from benchmarks.result import Result
from suffice.processes import ONE_THREAD

NAMES = (
    "zscores", "rules", "inference", "cohort", "batch", "cluster", "plans", "papers", "pages", "contact", "imports", "chains",
    "encrypted", "start",
)  # fmt: skip


def row(result: Result) -> tuple[str, str, str, str, str]:
    sign = "≥" if result.at_least else "≤"
    target = "" if result.target is None else f"{sign} {result.target:g} {result.unit}"
    verdict = {True: "met", False: "MISSED", None: ""}[result.meets]
    return (
        result.name, f"{result.value:,.3g} {result.unit}", target, verdict, result.detail,
    )  # fmt: skip


def main() -> int:
    os.environ.update(ONE_THREAD)  # as the program runs; read when a benchmark loads numpy
    console = Console(width=150)
    console.print(f"{platform.python_implementation()} {platform.python_version()}")
    missed = 0
    for name in sys.argv[1:] or NAMES:
        table = Table("what", "measured", "target", "", "how", title=name)
        with console.status(f"running {name} …"):
            results: list[Result] = importlib.import_module(f"benchmarks.{name}").run()
        for result in results:
            table.add_row(*row(result))
            missed += result.meets is False
        console.print(table)
    console.print(f"{missed} target(s) missed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
