"""What must be done now and then whether or not anybody is there: at the start and every minute."""

from __future__ import annotations

import logging
import time
from datetime import date
from threading import Thread
from zoneinfo import ZoneInfo

from django.db import DatabaseError, connections
from django.utils import timezone

from suffice.care import jobs, trail, uploads, verifying
from suffice.care.clinic.clinic import clinic
from suffice.care.clinic.learning import learn_at_night
from suffice.care.clinic.sessions import forget_ended
from suffice.care.family.erasing import sweep_erased
from suffice.care.photographs.consent import erase_ended_everywhere
from suffice.errors import SufficeError

logger = logging.getLogger("suffice.upkeep")

EVERY_S = 60
"""From one time to the next: often enough for who waits, seldom enough for the store."""
_pictures_swept: dict[str, date] = {}


def sweep() -> None:
    """Clear up after jobs; remove old uploads and sessions; seal a day, check the chains, learn.

    What cannot be done now, because the store is away, is left to the next time.
    """
    try:
        uploads.sweep()
        jobs.sweep()
        now = timezone.now()
        forget_ended(now=now)
        trail.flush()
        hour = now.astimezone(ZoneInfo(clinic().policy.zone)).hour
        sweep_erased(is_night=hour in verifying.AT_NIGHT)
        _sweep_pictures(now.date())
        verifying.keep_watch(now, hour)
    except (SufficeError, DatabaseError, OSError) as error:
        logger.warning("not swept: %s", type(error).__name__)
    _learn()


def _sweep_pictures(today: date) -> None:
    """At the start and once a day: a program that is stopped between two steps leaves few."""
    if today != _pictures_swept.get("on"):
        erase_ended_everywhere()
        _pictures_swept["on"] = today


def _learn() -> None:
    """At night, once; odd weights that no arithmetic can follow must not stop the sweeping."""
    try:
        learn_at_night(timezone.now())
    except (SufficeError, OSError, ArithmeticError, ValueError) as error:
        logger.warning("not learned: %s", type(error).__name__)


def keep_up() -> None:
    """Sweep at once and every minute, in a thread; for a server that has no process for it."""

    def go_on() -> None:
        while True:
            sweep()
            connections.close_all()
            time.sleep(EVERY_S)

    Thread(target=go_on, name="upkeep", daemon=True).start()
