"""A progress bar on standard error, and nothing at all where nobody watches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from suffice.cli.console import err


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar for the length of the block; call what it gives with (done, all)."""
    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=err, transient=True, disable=not err.is_terminal) as bar:
        task = bar.add_task(what, total=None)

        def told(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield told
