"""A program that restores a backup and waits where it is told to, to be killed there.

    python restorer.py FILE KEY PLACE

PLACE is a function of suffice.record.whole that restoring calls; it says so, and goes no further.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import sys
import time
from pathlib import Path

import django


def main(file: str, key: str, place: str) -> None:
    """Restore the file, and stop for ever at the place."""
    django.setup()
    from suffice.care.backup.key import read_key
    from suffice.care.backup.restoring import restore
    from suffice.record import whole

    def stop(*_arguments: object) -> None:
        print("at", place, flush=True)
        time.sleep(3600)

    if place:
        setattr(whole, place, stop)
    print("restored", restore(Path(file), read_key(Path(key))).stored.entries, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
