"""``suffice serve`` and ``suffice demo``."""

from __future__ import annotations

import errno
import os
import socket
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from suffice.cli.console import err, print_words
from suffice.cli.moment import now_utc
from suffice.cli.serving import only_server
from suffice.cli.store import in_turn, open_record, speak_as_a_clinic_that_is_there
from suffice.cli.system import reason_of
from suffice.cli.verify import look_at_start
from suffice.errors import InputError, Problem
from suffice.message import message

FIRST_USER = "consultant"
REFRESH_EVERY_S = 60
PATIENCE_S = 3
"""How long a process that answers may finish what it is at when the program is stopped."""
OTHERS_REACH_IT = message(
    "Others can reach this address. Put it behind HTTPS, set SUFFICE_HTTPS=1, and name the host in"
    " SUFFICE_HOSTS."
)
LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})


def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = 8000,
    workers: Annotated[int, typer.Option(help="Processes that answer.", min=1)] = 2,
    demo: Annotated[
        bool, typer.Option("--demo", help="Load the invented caseload if the record is empty.")
    ] = False,
) -> None:
    """Serve the pages, on this computer only unless asked otherwise."""
    try:
        _need_free(host, port)
    except InputError:
        speak_as_a_clinic_that_is_there()
        raise
    open_record()
    shown = "localhost" if host in LOOPBACK else host
    address = f"http://{shown}:{port}/"
    with only_server(_home(), address):
        _serve(host, port, workers, address, demo=demo)


def _home() -> Path:
    from django.conf import settings  # noqa: PLC0415

    return Path(settings.HOME)


def _serve(host: str, port: int, workers: int, address: str, *, demo: bool) -> None:
    with in_turn("start"):
        if demo:
            _load_demo_if_empty()
        _say_first_passphrase(aloud=demo or sys.stdout.isatty())
        _make_static_folder()
        _wipe_what_was_erased()
    look_at_start()
    warn_of_others(host)
    # Caseload rows are kept up to date by a process of their own, so no page waits for one.
    os.environ["SUFFICE_BACKGROUND"] = "0"
    refresher = _start_refresher()
    try:
        _listen(host, port, workers, address)
    finally:
        refresher.terminate()
        with suppress(subprocess.TimeoutExpired):
            refresher.wait(timeout=5)


def warn_of_others(host: str) -> None:
    """Say that others reach an address, unless the settings say that a proxy speaks HTTPS for it.

    In a container the pages listen on all of its own addresses, and the proxy stands before them.
    """
    from django.conf import settings  # noqa: PLC0415

    if host not in LOOPBACK and not settings.SESSION_COOKIE_SECURE:
        print_words(OTHERS_REACH_IT, to=err)


def _listen(host: str, port: int, workers: int, address: str) -> None:
    from granian import Granian  # noqa: PLC0415 -- only this command needs a server
    from granian.constants import HTTPModes, Interfaces  # noqa: PLC0415
    from granian.http import HTTP1Settings  # noqa: PLC0415
    from granian.log import LogLevels  # noqa: PLC0415

    from suffice.web.site import limits  # noqa: PLC0415

    server = Granian(
        "suffice.web.site.served:application",
        address=host,
        port=port,
        # The guard reads each request whole, so that a slow one keeps no thread that makes pages.
        interface=Interfaces.ASGINL,
        http=HTTPModes.http1,
        websockets=False,
        http1_settings=HTTP1Settings(
            header_read_timeout=limits.HEAD_MS, max_buffer_size=limits.HEAD_BYTES
        ),
        backpressure=limits.CONNECTIONS,
        workers=workers,
        respawn_failed_workers=True,
        # Ctrl+C reaches the workers as well as their parent, which asks them too; asked twice at
        # once one may wait for itself for ever, and go on answering.
        workers_kill_timeout=PATIENCE_S,
        log_level=LogLevels.warning,
    )
    running = message("Suffice is at {address} (stop it with Ctrl+C)", address=address)
    server.on_startup(lambda: print_words(running))
    server.serve()


def _make_static_folder() -> None:
    from django.conf import settings  # noqa: PLC0415

    # The server of static files warns at every start about a folder that is not there.
    Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)


def _wipe_what_was_erased() -> None:
    from suffice.care.family.erasing import wipe_before_anybody_comes  # noqa: PLC0415

    wipe_before_anybody_comes()


def _start_refresher() -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "suffice.cli", "refresh", "--workers", "1"]
    return subprocess.Popen(  # noqa: S603 -- our own program, fixed arguments
        [*command, "--every", str(REFRESH_EVERY_S), "--while-parent-lives"],
        stdin=subprocess.DEVNULL,
    )


def _need_free(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            of_port = error.errno in {errno.EADDRINUSE, errno.EACCES}
            raise InputError(
                Problem(
                    code="CLI-006",
                    what=message("{host}:{port}", host=host, port=port),
                    why=message("cannot be listened on: {reason}.", reason=reason_of(error)),
                    fix=message(
                        "Stop what uses it, or take another port: --port {port}.",
                        port=str(port + 1),
                    )
                    if of_port
                    else message("Name an address of this computer, such as 127.0.0.1."),
                    where="--port" if of_port else "--host",
                )
            ) from None


def demo() -> None:
    """Load the invented caseload into an empty record."""
    open_record()
    from suffice.care.demo.load import load_demo  # noqa: PLC0415

    count = load_demo(now=now_utc(), actor=FIRST_USER)
    print_words(
        message(
            "{count} invented family loaded. No person among them exists.",
            plural="{count} invented families loaded. No person among them exists.",
            count=count,
        )
    )


def _load_demo_if_empty() -> None:
    from suffice.record import repository  # noqa: PLC0415

    # Asked of the record itself: a start that loads nothing need not wait for the use cases.
    if not repository.family_ids():
        demo()


def _say_first_passphrase(*, aloud: bool) -> None:
    """Make a first user where there is none; say its passphrase as long as it is unchanged.

    Args:
        aloud: Whether to print it; a service's output is kept in a journal, where others read it.
    """
    from django.conf import settings  # noqa: PLC0415

    from suffice.care.clinic import people  # noqa: PLC0415
    from suffice.care.clinic.noted import of_shell  # noqa: PLC0415

    kept = Path(settings.HOME) / "first-passphrase"
    if not people.has_users():
        passphrase = people.new_passphrase()
        # Written before the user is made: a passphrase that nobody can read would lock all out.
        descriptor = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as opened:
            opened.write(passphrase + "\n")
        people.add_user(FIRST_USER, passphrase, now=now_utc(), is_admin=True, by=of_shell())
    if not kept.is_file():
        return
    passphrase = kept.read_text(encoding="utf-8").strip()
    if not people.is_passphrase_of(FIRST_USER, passphrase):
        return
    if not aloud:
        there = message("Sign in as {user}; the passphrase is in {path}: change it once you have.")
        print_words(there.with_params(user=FIRST_USER, path=str(kept)))
    else:
        first = message("Sign in as {user} with the passphrase {passphrase}")
        print_words(first.with_params(user=FIRST_USER, passphrase=passphrase))
        print_words(message("(kept in {path}; change it once you have signed in)", path=str(kept)))
