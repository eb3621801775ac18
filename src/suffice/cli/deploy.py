"""``suffice check``: what the record holds, and what is not safe yet before others reach it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import datetime
from ipaddress import ip_address
from pathlib import Path
from shlex import quote
from typing import Annotated, Any
from urllib.parse import urlsplit

import typer

from suffice.cli.backup import KEY_VARIABLE, held
from suffice.cli.console import print_words
from suffice.cli.moment import now_utc
from suffice.cli.store import open_record
from suffice.errors import InputError, Problem
from suffice.message import Ago, Amount, Words, message

RECORD_KEY = "SUFFICE_RECORD_KEY"
OTHERS = 0o077
"""The rights of everybody but the owner of a file or folder."""
HSTS_LEAST_S = 30 * 24 * 3600
"""Browsers that come back after a month's leave ask by HTTPS still."""
SECRET_LEAST_CHARACTERS = 50
"""What Django asks of a secret key."""
BYTES_PER_GB = 1_000_000_000
PRIVATE = ("", "suffice.sqlite3", "secret-key", "photograph-key", "first-passphrase", "suffice.log")
"""What of SUFFICE_HOME only its owner may read; the folder itself first."""
SAFE_MODES = frozenset({"require", "verify-ca", "verify-full"})


def check(
    deploy: Annotated[
        bool, typer.Option("--deploy", help="Also what is not safe yet where others reach it.")
    ] = False,
) -> None:
    """Say what is on the record and when it was last backed up; with --deploy, what is not safe."""
    open_record()
    from django.conf import settings  # noqa: PLC0415

    from suffice.care.backup.shelf import last_good  # noqa: PLC0415
    from suffice.record import whole  # noqa: PLC0415

    engine = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}[whole.engine()]
    stored = whole.stored()
    counts = held(stored.families, stored.entries)
    print_words(message("Record in {engine}: {held}.", engine=engine, held=counts))
    _say_encryption(settings)
    last, now = last_good(), now_utc()
    if last is not None:
        print_words(
            message(
                "Last backup that was opened: {path}, {ago}.",
                path=last.path,
                ago=Ago((now - last.made_at).total_seconds() / 3600),
            )
        )
    if deploy:
        found = [*unsafe(settings), *unsaved(settings, now)]
        if found:
            raise InputError(*found)
        print_words(message("Nothing unsafe was found."))


def _say_encryption(settings: Any) -> None:
    key = settings.RECORD_KEY
    if key is not None:
        print_words(message("It is encrypted whole, with the key {id}.", id=key.id.hex()))
    else:
        print_words(message("It is not encrypted by the program: see that its disk is."))


def unsafe(settings: Any) -> Iterator[Problem]:
    """What is not safe yet in the settings and the folder of the record."""
    yield from _program(settings)
    yield from _network(settings)
    yield from _database(settings)
    yield from _folder(Path(settings.HOME))
    if getattr(settings, "RECORD_KEY", None) is not None:
        yield from _keys_beside(Path(settings.HOME))


def _program(settings: Any) -> Iterator[Problem]:
    if settings.DEBUG:
        yield _problem(
            "DEPLOY-001",
            "SUFFICE_DEBUG",
            message(
                "shows what the program contains, patients included, to whoever meets a fault."
            ),
            message("Leave SUFFICE_DEBUG out."),
        )
    if len(settings.SECRET_KEY) < SECRET_LEAST_CHARACTERS:
        yield _problem(
            "DEPLOY-002",
            "secret-key",
            message("is too short: sessions could be forged."),
            message("Stop the program, remove the file, and start: it makes a good one."),
        )
    if _first_passphrase_is_kept(Path(settings.HOME)):
        yield _problem(
            "DEPLOY-003",
            "first-passphrase",
            message("is still the passphrase of the first user, and is in a file."),
            message("Sign in, change it, and remove the file."),
        )


def _first_passphrase_is_kept(home: Path) -> bool:
    from suffice.care.clinic import people  # noqa: PLC0415
    from suffice.cli.server import FIRST_USER  # noqa: PLC0415

    kept = home / "first-passphrase"
    return kept.is_file() and people.is_passphrase_of(
        FIRST_USER, kept.read_text(encoding="utf-8").strip()
    )


def _network(settings: Any) -> Iterator[Problem]:
    hosts = settings.ALLOWED_HOSTS
    if "*" in hosts or "SUFFICE_HOSTS" not in os.environ:
        yield _problem(
            "DEPLOY-004",
            "SUFFICE_HOSTS",
            message("does not name the one host by which the pages are reached."),
            message("Name it, like SUFFICE_HOSTS=clinic.example."),
        )
    if not settings.SESSION_COOKIE_SECURE:
        yield _problem(
            "DEPLOY-005",
            "SUFFICE_HTTPS",
            message("is not 1: what is entered, and who signs in, could be read on the network."),
            message(
                "Put a proxy with HTTPS in front (docs/deployment.md) and set SUFFICE_HTTPS=1."
            ),
        )
        return
    if not settings.SUFFICE_PROXIES:
        yield _problem(
            "DEPLOY-006",
            "SUFFICE_PROXIES",
            message(
                "names no proxy: all people seem to come from one address and without HTTPS, and"
                " wrong passphrases of one keep the others waiting."
            ),
            message("Name the proxy's address, like SUFFICE_PROXIES=127.0.0.1."),
        )
    if getattr(settings, "SECURE_HSTS_SECONDS", 0) < HSTS_LEAST_S:
        yield _problem(
            "DEPLOY-007",
            "SUFFICE_HSTS_S",
            message("is not set for a month at least: a browser may ask without HTTPS first."),
            message("Once HTTPS works set SUFFICE_HSTS_S=31536000."),
        )
    for origin in settings.CSRF_TRUSTED_ORIGINS:
        if not origin.startswith("https://") or "*" in origin:
            yield _problem(
                "DEPLOY-008",
                origin,
                message("is no origin that forms may safely come from."),
                message(
                    "Write it whole and with https, like SUFFICE_ORIGINS=https://clinic.example."
                ),
            )
    yield from _provider(settings.SUFFICE_OIDC["issuer"])


def _provider(issuer: str) -> Iterator[Problem]:
    address = urlsplit(issuer)
    if issuer and address.scheme != "https" and not _is_here(address.hostname or "?"):
        yield _problem(
            "DEPLOY-017",
            "SUFFICE_OIDC_ISSUER",
            message("is asked without HTTPS: whoever is between could sign in as anybody."),
            message("Name the provider with https, as its tokens do."),
        )


def _database(settings: Any) -> Iterator[Problem]:
    database = settings.DATABASES["default"]
    if not database["ENGINE"].endswith("postgresql"):
        return
    mode = database.get("OPTIONS", {}).get("sslmode", "")
    if not _is_here(str(database["HOST"])) and mode not in SAFE_MODES:
        yield _problem(
            "DEPLOY-009",
            "DATABASE_URL",
            message("reaches another computer without asking for encryption."),
            message("End it with ?sslmode=verify-full."),
        )


def _is_here(host: str) -> bool:
    """Whether something is on this computer: by no host, a socket's folder, or the loopback."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host in {"", "localhost"} or host.startswith("/")


def _folder(home: Path) -> Iterator[Problem]:
    for name in PRIVATE:
        path = home / name
        if path.exists() and path.stat().st_mode & OTHERS:
            rights = "700" if path.is_dir() else "600"
            yield _problem(
                "DEPLOY-010",
                str(path),
                message("can be read by others on this computer."),
                message("chmod {rights} {path}", rights=rights, path=quote(str(path))),
            )


def _keys_beside(home: Path) -> Iterator[Problem]:
    """Keys that whoever takes the disk of an encrypted record would have with it."""
    key = Path(os.environ.get(RECORD_KEY, ""))
    if key.is_file() and _is_on_disk_of(key, home):
        yield _problem(
            "DEPLOY-015",
            str(key),
            message(
                "is on the same disk as the record that it encrypts: whoever takes one has both."
            ),
            message(
                "Keep it on a stick, a share, or sealed by the computer's own chip (docs/deployment.md)."
            ),
        )
    if (home / "photograph-key").exists():
        yield _problem(
            "DEPLOY-016",
            "photograph-key",
            message("is in the same folder as the photographs, although the record is encrypted."),
            message(
                "Put what is in it into SUFFICE_PHOTOGRAPH_KEY, where it comes from another place,"
                " and remove the file."
            ),
        )


def _is_on_disk_of(one: Path, other: Path) -> bool:
    return one.stat().st_dev == other.stat().st_dev


def unsaved(settings: Any, now: datetime) -> Iterator[Problem]:
    """What of the record could be lost: no backup, an old one, one on the same disk, no room."""
    from suffice.care.backup.shelf import last_good  # noqa: PLC0415
    from suffice.care.doctor import OPENED_WITHIN_H, room  # noqa: PLC0415

    home, last = Path(settings.HOME), last_good()
    make_one = message("Let suffice backup run every night (docs/backup.md).")
    if last is None:
        why = message("has no backup that was opened after it was made.")
        yield _problem("DEPLOY-011", message("The record"), why, make_one)
    else:
        age_h = (now - last.made_at).total_seconds() / 3600
        if not 0 <= age_h <= OPENED_WITHIN_H:
            yield _problem(
                "DEPLOY-012",
                message("The last backup"),
                message(
                    "was made {ago}; at most {most} h are safe.",
                    ago=Ago(age_h),
                    most=OPENED_WITHIN_H,
                ),
                make_one,
            )
        yield from _elsewhere(Path(last.path), home)
    free_bytes, needed_bytes = room(home)
    if free_bytes < needed_bytes:
        yield _problem(
            "DEPLOY-014",
            str(home),
            message(
                "is on a disk with only {free} free.",
                free=Amount(free_bytes / BYTES_PER_GB, "GB", decimals=1),
            ),
            message("Make room: without it nothing can be saved, and no backup made."),
        )


def _elsewhere(backup: Path, home: Path) -> Iterator[Problem]:
    """A backup that goes with the record's disk, or one that its key lies beside."""
    key = Path(os.environ.get(KEY_VARIABLE, ""))
    if not backup.is_file():
        why = message("is not there any more: removed, or its disk is not mounted.")
        yield _problem("DEPLOY-013", str(backup), why, message("Mount the disk, or back up again."))
    elif _is_on_disk_of(backup, home):
        yield _problem(
            "DEPLOY-013",
            str(backup),
            message("is on the same disk as the record, and would be lost with it."),
            message("Back up to another disk or a mounted share."),
        )
    elif key.is_file() and _is_on_disk_of(key, backup):
        yield _problem(
            "DEPLOY-018",
            str(key),
            message(
                "is on the same disk as the backups that it opens: whoever takes one has both."
            ),
            message(
                "Keep it on another disk than the backups, and name that in SUFFICE_BACKUP_KEY."
            ),
        )


def _problem(code: str, what: Words, why: Words, fix: Words) -> Problem:
    return Problem(code=code, what=what, why=why, fix=fix)
