"""Counts of wrong passphrases, so that trying many of them takes long; of no patient and no fact.

A try is counted before the passphrase is looked at, and taken back when it was right: however many
come at once, each is seen by the next. What is counted for (an account, an address) stands here as a
digest only.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

import msgspec
from django.db.models import F

from suffice.record import models
from suffice.record.repository import one_transaction


class Allowance(msgspec.Struct, frozen=True, kw_only=True):
    """How many wrong tries are free, and how long the next ones wait.

    Attributes:
        free: Wrong tries that cost nothing.
        longest_s: The wait never grows beyond; nobody is locked out for good.
        forgotten_h: Without another wrong try for so long, none is remembered.
    """

    free: int
    longest_s: float
    forgotten_h: float

    def wait_s(self, wrong_count: int) -> float:
        """How long to wait after so many wrong tries: two seconds, doubled each time, to the end."""
        beyond = min(wrong_count - self.free, 30)
        return min(2.0**beyond, self.longest_s) if beyond > 0 else 0.0

    def left_s(self, wrong_count: int, gone_s: float) -> float:
        """What is left of the wait, `gone_s` after the latest try.

        Of two tries at once one may have looked at the clock before the other was counted; but a
        clock that was set back must not keep anybody waiting for as long.
        """
        is_set_back = gone_s < -self.longest_s
        return 0.0 if is_set_back else self.wait_s(wrong_count) - max(gone_s, 0.0)


def take(keys: Mapping[str, Allowance], *, now: datetime, first_is_free: str = "") -> float:
    """Count a try under each key, unless one of them must wait still.

    Args:
        keys: What is counted for, each with its allowance.
        now: The instant.
        first_is_free: A key under which a first try waits for no other key.

    Returns:
        The seconds to wait, nothing being counted then; 0 when the try was counted and may be made.
    """
    with one_transaction():
        rows = _rows(keys, now)
        is_first = any(row.key == first_is_free and row.wrong_count == 0 for row in rows)
        waits = [
            keys[row.key].left_s(row.wrong_count, (now - row.last_at).total_seconds())
            for row in rows
            if row.key == first_is_free or not is_first
        ]
        if (wait_s := max(waits)) > 0:
            return wait_s
        for row in rows:
            row.wrong_count, row.last_at = row.wrong_count + 1, now
        models.SignInTries.objects.bulk_update(rows, ["wrong_count", "last_at"])
    return 0.0


def _rows(keys: Mapping[str, Allowance], now: datetime) -> list[models.SignInTries]:
    """The counts of the keys, held against other writers; what is long past is forgotten."""
    tries = models.SignInTries.objects
    longest_h = max(allowance.forgotten_h for allowance in keys.values())
    tries.filter(last_at__lt=now - timedelta(hours=longest_h)).delete()
    tries.bulk_create(
        (models.SignInTries(key=key, wrong_count=0, last_at=now) for key in sorted(keys)),
        ignore_conflicts=True,
    )
    # In the order of their keys, so that two tries never wait for one another.
    rows = list(tries.select_for_update().filter(key__in=keys).order_by("key"))
    for row in rows:
        if row.last_at < now - timedelta(hours=keys[row.key].forgotten_h):
            row.wrong_count = 0
    return rows


def forgive(key: str) -> None:
    """Forget every wrong try under a key."""
    with one_transaction():
        models.SignInTries.objects.filter(key=key).delete()


def take_back(key: str) -> None:
    """Take back one try under a key that turned out to be right."""
    with one_transaction():
        models.SignInTries.objects.filter(key=key, wrong_count__gt=0).update(
            wrong_count=F("wrong_count") - 1
        )
