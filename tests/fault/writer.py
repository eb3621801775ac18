"""A program that writes batches of entries and says after each that it was acknowledged.

    python writer.py FIRST LAST

Batch n is always the same entries with the same ids, so that a second run repeats what the first
may or may not have stored, as an offline device would. Killed by test_kill.py.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import sys

import django

BATCH_SIZE = 4


def main(first: int, last: int) -> None:
    """Write the batches from `first` to `last` and print the number of each once it is stored."""
    django.setup()
    from people import BORN_AT, an_entry, an_id
    from suffice.clinical.entry import Infant, Weight
    from suffice.record import repository

    infant = Infant(id=an_id("infant"), position=1)
    repository.open_family(an_id("family"), [infant], opened_at=BORN_AT, opened_by="writer")
    print("ready", flush=True)
    for number in range(first, last + 1):
        batch = [
            an_entry(f"{number} {part}", Weight(weight_g=number * 10.0 + part), infant=infant)
            for part in range(BATCH_SIZE)
        ]
        repository.append(an_id("family"), batch)
        print(number, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
