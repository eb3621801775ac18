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

from suffice.cli.console import err, said
from suffice.message import Words

Told = Callable[[int, int], None]


@contextmanager
def progress(what: Words) -> Iterator[Told]:
    """A bar for the length of the block; call what it gives with (done, all)."""
    with steps(what) as told:
        yield told[0]


@contextmanager
def stages(names: Mapping[str, Words]) -> Iterator[Callable[[str, int, int], None]]:
    """A bar for each stage of a job that has a name; call what it gives with (stage, done, all)."""
    with steps(*names.values()) as told:
        bars = dict(zip(names, told, strict=True))

        def watch(stage: str, done: int, total: int) -> None:
            if stage in bars:
                bars[stage](done, total)

        yield watch


@contextmanager
def steps(*names: Words) -> Iterator[list[Told]]:
    """A bar for each step, shown once the step has begun."""
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=err, transient=True, disable=not err.is_terminal) as bar:
        yield [_told(bar, bar.add_task(said(name), total=None, visible=False)) for name in names]


def _told(bar: Progress, task: TaskID) -> Told:
    def told(done: int, total: int) -> None:
        bar.update(task, completed=done, total=total, visible=True)

    return told
