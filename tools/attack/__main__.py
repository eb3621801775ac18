"""Attacks a server that is started here and ended again; 1 where it did not withstand.

python -m tools.attack [--requests 20000] [--seconds 20] [--seed 1] [--engine sqlite|postgres]
    [--parts strangers roles slow files forms] [--addresses family entry-new ...]
"""

from __future__ import annotations

import argparse
import os
import random
import re
import sys
from collections.abc import Callable, Collection
from contextlib import ExitStack
from datetime import UTC, datetime
from http.client import HTTPException
from pathlib import Path
from threading import Thread
from uuid import uuid4

from rich.progress import Progress

from tools.attack import hostile, slow, stranger
from tools.attack.authorised import EVERYBODY, Matrix
from tools.attack.forms import read_page
from tools.attack.fuzz import UUIDS, Fuzzer, Got, Sent
from tools.attack.needs import NEEDS
from tools.attack.server import PASSPHRASE, USER, Server, running
from tools.attack.two_teams import put
from tools.attack.wire import Session

ROOT = Path(__file__).resolve().parents[2]
STARTS = [
    "/",
    "/families/new/",
    "/import/",
    "/policy/",
    "/users/",
    "/account/",
    "/bench/",
    "/library/",
    "/set-up/",
]
SPARED = {"/sign-out/", "/account/passphrase/", "/sign-in/"}
SET_UP_FACTOR = "/account/codes/"
ATTACKERS = 2
PARTS = ("strangers", "roles", "slow", "files", "forms")
LATE_S = 2.0
"""Others wait no longer than this, 99 times of 100, whoever is slow."""
FAILED = re.compile(r"^.*: 50\d .*\n(?:  .*\n)*", re.MULTILINE)


def set_up(server: Server) -> None:
    """Set Django up in this process with the server's record."""
    os.environ |= server.environment
    os.environ["DJANGO_SETTINGS_MODULE"] = "suffice.web.site.settings"
    import django  # noqa: PLC0415 -- reads the environment

    django.setup()


def strangers(server: Server) -> list[str]:
    """Every address in every method without having signed in."""
    session = Session(server.port)
    session.sign_in()
    page = session.get("/").text
    family = next(path for path in read_page("/", page)[0] if UUIDS.search(path))
    names = re.findall(r'class="name"[^>]*>\s*<a[^>]*>([^<]+)<', page)
    entries = session.get(f"{family.partition('?')[0]}entries/").text
    ids = {
        "family_id": UUIDS.findall(family)[0],
        "key": "history",
        "which": "latch",
        "kind": "weight",
    }
    ids["entry_id"] = ids["name"] = UUIDS.findall(entries)[-1]
    found = list(stranger.matrix(server.port, ids, names))
    print(
        f"strangers: {len(found)} requests, {stranger.counted([status for _, status, _ in found])}"
    )
    return [f"stranger: {status} at {what}" for what, status, right in found if not right]


def authorised(server: Server, addresses: Collection[str]) -> list[str]:
    """Every address in every method as somebody of each role, in the family's team and in another."""
    clinic = put(EVERYBODY, now=datetime.now(UTC))
    with Progress() as bar:
        task = bar.add_task("roles", total=None)
        found = Matrix(server.port, clinic, addresses).run(lambda: bar.advance(task))
    print(f"roles: {found}")
    return [f"roles: {one}" for one in found.wrong]


def signed_in_again(session: Session) -> None:
    """Sign in; where a request has taken the user's own way in, such as a reset, give it back before."""
    try:
        session.sign_in()
    except RuntimeError:
        from django.contrib.auth.models import User  # noqa: PLC0415 -- set up with the server's record

        from suffice.care.clinic import accounts  # noqa: PLC0415

        user = User.objects.get(username=USER)
        user.set_password(PASSPHRASE)
        user.is_active = True
        user.save()
        accounts.remove_factor(None, USER)
        session.sign_in()


def without_second_factor() -> None:
    """Take off what a request has put into the policy, and what would lead every later one away."""
    import msgspec  # noqa: PLC0415 -- set up with the server's record
    from django.utils import timezone  # noqa: PLC0415

    from suffice.care.clinic.clinic import clinic  # noqa: PLC0415
    from suffice.record import policies  # noqa: PLC0415

    policy = clinic().policy
    if policy.second_factor:
        plain = msgspec.json.decode(
            msgspec.json.encode(msgspec.structs.replace(policy, second_factor=False))
        )
        policies.append(uuid4(), plain, entered_at=timezone.now(), entered_by=USER)


def asking(session: Session) -> object:
    """Sends what the fuzzer makes; signs in again where it was signed out, and stays let in."""

    def ask(sent: Sent) -> Got:
        try:
            answer = session.ask(sent.method, sent.path, sent.body, dict(sent.headers))
        except ValueError:  # no client sends such a head
            return Got(-1)
        except (OSError, HTTPException):
            return Got(0)
        location = answer.headers.get("location", "")
        if location.startswith("/sign-in/") and "Cookie" not in dict(sent.headers):
            signed_in_again(session)
        elif location == SET_UP_FACTOR and not sent.path.startswith(SET_UP_FACTOR):
            without_second_factor()
        is_page = answer.headers.get("content-type", "").startswith("text/html")
        return Got(answer.status, location, answer.text if is_page else "")

    return ask


def fuzzed(server: Server, requests: int, seed: int) -> list[str]:
    """Spoiled forms and addresses, as many as are asked for."""
    fuzzers: list[Fuzzer] = []
    with Progress() as bar:
        task = bar.add_task("fuzzing", total=requests)

        def attack(number: int) -> None:
            session = Session(server.port, timeout_s=120)
            signed_in_again(session)
            ask = asking(session)
            fuzzer = Fuzzer(
                ask, seed + number, STARTS, lambda: session.cookies.get("csrftoken", ""), SPARED
            )
            fuzzers.append(fuzzer)
            fuzzer.run(requests // ATTACKERS, lambda _done: bar.advance(task))

        threads = [Thread(target=attack, args=(number,)) for number in range(ATTACKERS)]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
    for fuzzer in fuzzers:
        print(f"fuzzer: {fuzzer.found}")
    failures = [one for fuzzer in fuzzers for one in fuzzer.found.failures]
    short = requests // ATTACKERS * ATTACKERS - sum(
        sum(fuzzer.found.statuses.values()) for fuzzer in fuzzers
    )
    ended = [f"fuzzer: ended {short} requests early"] if short else []
    return [f"fuzzer: {status} {sent}" for status, sent in failures] + ended


def filed(server: Server) -> list[str]:
    """Files that no import expects: sent, looked at, imported as they stand."""
    session = Session(server.port, timeout_s=120)
    session.sign_in()
    wrong = []
    files = hostile.files(random.Random(1))
    for name, content in files.items():
        sent = session.send_file(content)
        statuses = [sent.status]
        if sent.status == 302:
            where = sent.headers["location"]
            statuses.append(session.get(where).status)
            statuses.append(session.post(where, {"import": "1", "whole": "1"}).status)
        wrong += [f"file: {status} for {name}" for status in statuses if status not in {200, 302}]
    print(f"files: {len(files)} sent, looked at and imported")
    return wrong


def slowed(server: Server, seconds: float) -> list[str]:
    """Slow and large clients; what others wait meanwhile is printed, and too much of it is a fault."""
    late = []
    for line in slow.measured(server, seconds, [2, 50, 500]):
        print(f"slow: {line}", flush=True)
        p99 = re.search(r"p99 ([\d.]+) s", line)
        if (p99 and float(p99.group(1)) > LATE_S) or "failed" in line:
            late.append(f"slow: {line}")
    return late


def logged(server: Server) -> str:
    """What the log holds of failures, the oldest file first."""
    files = sorted(server.home.glob("suffice.log*"), reverse=True)
    text = "".join(one.read_text(encoding="utf-8") for one in files)
    return "".join(FAILED.findall(text))


def main() -> int:
    """Attack, and say what was found."""
    parser = argparse.ArgumentParser(prog="make attack")
    parser.add_argument("--requests", type=int, default=20_000)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=["sqlite", "postgres"], default="sqlite")
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=PARTS, help="which attacks")
    parser.add_argument(
        "--addresses", nargs="+", choices=NEEDS, default=list(NEEDS), help="for the roles"
    )
    asked = parser.parse_args()
    with ExitStack() as stack:
        url = ""
        if asked.engine == "postgres":
            sys.path.insert(0, str(ROOT / "tests"))
            from postgres import running as postgres  # noqa: PLC0415 -- a helper of the tests

            url = stack.enter_context(postgres()).create_database("attack")
        server = stack.enter_context(running("--demo", database_url=url))
        set_up(server)
        attacks: dict[str, Callable[[], list[str]]] = {
            "strangers": lambda: strangers(server),
            "roles": lambda: authorised(server, asked.addresses),
            "slow": lambda: slowed(server, asked.seconds),
            "files": lambda: filed(server),
            "forms": lambda: fuzzed(server, asked.requests, asked.seed),
        }
        wrong = [one for part in PARTS if part in asked.parts for one in attacks[part]()]
        print(logged(server))
    print("\n".join(wrong) or "withstood")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
