"""A progress bar on standard error, and nothing at all where nobody watches."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)

from suffice.cli.console import err, in_words
from suffice.message import Words

Advance = Callable[[int, int], None]


@contextmanager
def progress(what: Words) -> Iterator[Advance]:
    """A bar for the length of the block; call what it gives with (done, all)."""
    with steps(what) as advances:
        yield advances[0]


@contextmanager
def stages(names: Mapping[str, Words]) -> Iterator[Callable[[str, int, int], None]]:
    """A bar for each stage of a job that has a name; call what it gives with (stage, done, all)."""
    with steps(*names.values()) as advances:
        bars = dict(zip(names, advances, strict=True))

        def watch(stage: str, done: int, total: int) -> None:
            if stage in bars:
                bars[stage](done, total)

        yield watch


@contextmanager
def steps(*names: Words) -> Iterator[list[Advance]]:
    """A bar for each step, shown once the step has begun."""
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=err, transient=True, disable=not err.is_terminal) as bar:
        yield [
            _advance_of(bar, bar.add_task(in_words(name), total=None, visible=False))
            for name in names
        ]


def _advance_of(bar: Progress, task: TaskID) -> Advance:
    def advance(done: int, total: int) -> None:
        bar.update(task, completed=done, total=total, visible=True)

    return advance
