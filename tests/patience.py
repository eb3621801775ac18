"""Waiting for what another thread or process does: until it is so, and not for any time.

No test asks how long something takes; benchmarks do. The one limit here tells a hang from a busy
machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

PATIENCE_S = 60.0
"""After so long nothing is going to happen any more."""
_BETWEEN_S = 0.05

T = TypeVar("T")


def until(look: Callable[[], T], holds: Callable[[T], object], patience_s: float = PATIENCE_S) -> T:
    """What is seen once it is as it should be; AssertionError with what is seen instead."""
    given_up_at = time.monotonic() + patience_s
    while not holds(seen := look()):
        if time.monotonic() > given_up_at:
            raise AssertionError(seen)
        time.sleep(_BETWEEN_S)
    return seen
