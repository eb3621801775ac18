"""Sessions of devices: a passphrase is proven once in a few minutes, and what that began is copied.

Apart from the fixtures, which a test that imports from their file would get a second time.
"""

from __future__ import annotations

import re
import secrets
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from pathlib import Path
from typing import Any, NamedTuple

from playwright.sync_api import BrowserContext

PASSPHRASE = "four quiet words here"
BEGUN_ANEW_AFTER = timedelta(minutes=4)
"""A session that nobody has used for so long is still far from being locked."""


class _Begun(NamedTuple):
    """What signing in gave, and when."""

    cookies: list[Any]
    at: datetime


_BEGUN: dict[tuple[str, str], _Begun] = {}
HOMES: dict[str, Path] = {}
"""The home folder of each server, by its address."""


def sign_in_unseen(device: BrowserContext, address: str, name: str = "consultant") -> None:
    """Sign in for a session of the device's own without showing it a page: these are shown elsewhere.

    To prove a passphrase takes a fifth of a second, so it is proven once in a few minutes. Each device
    has a copy of the session that this began, under a key of its own, as it was when nobody had used it.
    """
    kept = _BEGUN.get((address, name))
    if kept is None or datetime.now(UTC) - kept.at > BEGUN_ANEW_AFTER:
        at = datetime.now(UTC)
        kept = _BEGUN[address, name] = _Begun(_cookies_of_a_session(device, address, name), at)
    own: list[Any] = [dict(one) for one in kept.cookies]
    for cookie in own:
        if cookie["name"] == "sessionid":
            cookie["value"] = _copy_session(HOMES[address], cookie["value"])
    device.add_cookies(own)


def _cookies_of_a_session(device: BrowserContext, address: str, name: str) -> list[Any]:
    form = device.request.get(f"{address}/sign-in/").text()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', form)
    assert token
    typed = {"csrfmiddlewaretoken": token[1], "username": name, "password": PASSPHRASE}
    # The page that follows is not asked for: it would be a list of the whole caseload, and a use.
    answer = device.request.post(
        f"{address}/sign-in/",
        form=typed,
        headers={"Referer": f"{address}/sign-in/"},
        max_redirects=0,
    )
    assert answer.status == HTTPStatus.FOUND
    assert "/sign-in/" not in answer.headers["location"]
    return [*device.cookies(address)]


def _copy_session(home: Path, key: str) -> str:
    """The key of a new session that holds what another does, on the record of a server that runs."""
    new = secrets.token_hex(16)
    with closing(sqlite3.connect(home / "suffice.sqlite3", timeout=30)) as record, record:
        done = record.execute(
            "INSERT INTO django_session (session_key, session_data, expire_date)"
            " SELECT ?, session_data, expire_date FROM django_session WHERE session_key = ?",
            (new, key),
        )
        assert done.rowcount == 1
    return new
