"""Other processes that compute and never touch the database."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


@contextmanager
def processes(workers: int) -> Iterator[ProcessPoolExecutor]:
    """A pool of so many processes, each with one thread of arithmetic.

    They are spawned, not forked: a forked child would share this one's database connection. More
    threads would fight over the same cores; their number is read when numpy is loaded, which in a
    child is before any code of ours runs, so it learns this through the environment.
    """
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(ONE_THREAD)
    try:
        with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
            yield pool
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
