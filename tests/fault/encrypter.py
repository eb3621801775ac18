"""A program that encrypts a record, or decrypts it, and waits where it is told to, to be killed there.

    python encrypter.py PLACE COMMAND...

PLACE is a function that the command calls, as module:name; it says so, and goes no further.
"""

from __future__ import annotations

import sys
import time
from importlib import import_module


def main(place: str, *command: str) -> None:
    """Run the command, and stop for ever at the place."""
    import suffice.cli  # noqa: PLC0415

    name, function = place.split(":")

    def stop(*_arguments: object, **_named: object) -> None:
        print("at", place, flush=True)
        time.sleep(3600)

    # Before the command loads it: it takes the function from there.
    setattr(import_module(name), function, stop)
    sys.argv = ["suffice", *command]
    suffice.cli.main()


if __name__ == "__main__":
    main(*sys.argv[1:])
