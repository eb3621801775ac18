"""How densely rules are swept: each nth case and half the examples in `make test`, all in `make sweep`."""

from __future__ import annotations

import os


def each(nth: int) -> int:
    """The step of a sweep: `nth`, or 1 where every case is asked for."""
    return 1 if os.environ.get("SUFFICE_SWEEP") == "every" else nth


def drawn(examples: int) -> int:
    """How many examples Hypothesis draws of a property that takes long: half, the same ones each time, or all."""
    return examples // each(2)
