"""How densely a table of rules is swept: each nth case in `make test`, every one in `make sweep`."""

from __future__ import annotations

import os


def each(nth: int) -> int:
    """The step of a sweep: `nth`, or 1 where every case is asked for."""
    return 1 if os.environ.get("SUFFICE_SWEEP") == "every" else nth
