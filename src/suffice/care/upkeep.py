"""What must be done now and then whether or not anybody is there: at the start and every minute."""

from __future__ import annotations

import logging
import time
from threading import Thread

from django.db import connections

from suffice.care import jobs, uploads
from suffice.errors import SufficeError

logger = logging.getLogger("suffice.upkeep")

EVERY_S = 60
"""From one time to the next: often enough for who waits, seldom enough for the store."""


def sweep() -> None:
    """Clear up after jobs that were interrupted; remove old jobs, and uploads after their day.

    What cannot be done now, because the store is away, is left to the next time.
    """
    try:
        uploads.sweep()
        jobs.sweep()
    except (SufficeError, OSError) as error:
        logger.warning("not swept: %s", type(error).__name__)


def keep_up() -> None:
    """Sweep at once and every minute, in a thread; for a server that has no process for it."""

    def go_on() -> None:
        while True:
            sweep()
            connections.close_all()
            time.sleep(EVERY_S)

    Thread(target=go_on, name="upkeep", daemon=True).start()
