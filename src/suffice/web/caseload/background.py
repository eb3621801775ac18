"""Bringing caseload rows up to date while nobody waits for them.

The caseload shows what was last computed and says as of when. Once it has been shown, one thread
of this process assesses anew whatever no longer holds.
"""

from __future__ import annotations

import logging
from threading import Lock, Thread

from django.conf import settings
from django.db import connections
from django.utils import timezone

from suffice.care.caseload import refreshing
from suffice.errors import SufficeError

logger = logging.getLogger("suffice.background")
_busy = Lock()


def bring_up_to_date() -> None:
    """Start assessing what no longer holds, unless that is under way already."""
    if settings.SUFFICE_BACKGROUND and _busy.acquire(blocking=False):
        Thread(target=_work, name="caseload rows", daemon=True).start()


def _work() -> None:
    try:
        refreshing.bring_up_to_date(timezone.now, by="suffice", workers=1, waits=False)
    except SufficeError as error:
        # The page goes on showing the caseload row with its as-of; a code holds no patient data.
        codes = ", ".join(problem.code for problem in error.problems)
        logger.warning("caseload rows were not brought up to date: %s", codes)
    finally:
        connections.close_all()
        _busy.release()
