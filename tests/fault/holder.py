"""A program of some version that uses a record until it is told to end; killed or ended by test_two_versions.py.

It says `joined`, then for each line that it is sent whether it may write: `written` or the refusal.
"""
# ruff: noqa: PLC0415 -- models can be imported only once Django is set up

from __future__ import annotations

import sys
from datetime import UTC, datetime
from uuid import uuid4

import django


def main() -> None:
    django.setup()
    from django.db import connection

    from suffice.clinical.entry import Infant
    from suffice.errors import StorageError
    from suffice.record import one_version, repository

    one_version.join()
    connection.ensure_connection()
    print("joined", flush=True)
    for _line in sys.stdin:
        infant = Infant(id=uuid4(), position=1)
        try:
            repository.open_family(
                uuid4(), [infant], opened_at=datetime.now(UTC), opened_by="holder"
            )
            print("written", flush=True)
        except StorageError as error:
            print(error.problems[0].code, error.problems[0].why, flush=True)
        # As a server of pages does after each request.
        connection.close()


if __name__ == "__main__":
    main()
