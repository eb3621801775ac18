"""Whatever goes wrong, nothing about a patient reaches standard output, standard error or a log.

A real server is run on a record of one family whose name and note can be found again; every kind of
fault is provoked, by request and by damaging the database beneath it; then all it wrote is searched.
"""

from __future__ import annotations

import os
import re
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import quote, urlencode

import pytest

from patience import until
from people import BORN_AT, an_entry, an_id
from suffice.clinical.entry import Birth, Identity, Infant, Note, Record, Weight
from suffice.exchange.family.family_json import FamilyFile, encode

FAMILY = an_id("family")
INFANT = Infant(id=an_id("infant"), position=1)
NAME, TYPED, WEIGHT = "Zephyrine Quartzhold", "was bitten by a lemur", 3217
PASSPHRASE = "four quiet words here"
TOLD = re.compile("zephyrine|quartzhold|lemur|3217|four quiet", re.IGNORECASE)


def family_file() -> bytes:
    born = Birth(zone="UTC", sex="female", birth_weight_g=3300.0, gestation_days=280)
    entries = (
        an_entry("birth", born, infant=INFANT),
        an_entry("name", Identity(name=NAME), infant=None),
        an_entry("note", Note(text=TYPED), infant=None),
        an_entry("weight", Weight(weight_g=float(WEIGHT)), infant=INFANT, at_h=30),
    )
    record = Record(family_id=FAMILY, infants=(INFANT,), entries=entries)
    return encode(FamilyFile.from_record(record, opened_at=BORN_AT, opened_by="consultant"))


class Server:
    """A server with a home of its own, and everything that it writes."""

    def __init__(self, home: Path) -> None:
        self.home, self.said = home, home.with_name("said")
        self.environment = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"}
        self.environment["SUFFICE_HOME"] = str(home)
        self.cookies: dict[str, str] = {}
        self.port = 0

    def command(self, *arguments: str, given: str = "") -> int:
        """Run a command; what it writes is kept too."""
        with self.said.open("a") as said:
            done = subprocess.run(
                [sys.executable, "-m", "suffice.cli", *arguments],
                input=given,
                text=True,
                stdout=said,
                stderr=said,
                env=self.environment,
                check=False,
                timeout=120,
            )
        return done.returncode

    def refresh_until(self, word: str) -> None:
        """Let ranks be refreshed without end, as beside every server, until it has said a word."""
        with self.said.open("ab") as said:
            refresher = subprocess.Popen(
                [sys.executable, "-m", "suffice.cli", "refresh", "--workers", "1", "--every", "1"],
                stdout=said,
                stderr=said,
                env=self.environment,
            )
        try:
            until(self.said.read_text, lambda text: word in text)
        finally:
            refresher.terminate()
            refresher.wait()

    def start(self) -> subprocess.Popen[bytes]:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        command = [sys.executable, "-m", "suffice.cli", "serve", "--workers", "1"]
        with self.said.open("ab") as said:
            process = subprocess.Popen(
                [*command, "--port", str(self.port)],
                stdout=said,
                stderr=said,
                env=self.environment,
            )
        until(self._answers, lambda is_there: is_there or process.poll() is not None)
        assert process.poll() is None, self.said.read_text()
        return process

    def _answers(self) -> bool:
        try:
            return self.ask("GET", "/sign-in/") == 200
        except OSError:
            return False

    def ask(self, method: str, path: str, *, host: str = "localhost", **sent: str) -> int:
        """The status of an answer; cookies are kept, and a form's token is sent back."""
        headers = {"Host": f"{host}:{self.port}", "Referer": f"http://localhost:{self.port}/"}
        headers["Cookie"] = "; ".join(f"{key}={value}" for key, value in self.cookies.items())
        body = None
        if method == "POST":
            headers["Content-Type"] = "application/x-www-form-urlencoded"
            body = urlencode({"csrfmiddlewaretoken": self.cookies.get("csrftoken", ""), **sent})
        with closing(HTTPConnection("localhost", self.port, timeout=60)) as connection:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            answer.read()
            for line in answer.headers.get_all("Set-Cookie") or []:
                self.cookies.update({key: one.value for key, one in SimpleCookie(line).items()})
        return answer.status

    def damage(self, *statements: str) -> None:
        with closing(sqlite3.connect(self.home / "suffice.sqlite3")) as database:
            names = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            for (name,) in database.execute(names).fetchall():
                database.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                assert database.execute(statement).rowcount != 0, statement
            database.commit()

    def told(self) -> list[str]:
        """Every line that was written anywhere and tells something about the patient."""
        logs = [self.said, *self.home.glob("suffice.log*"), *(self.home / "trail").glob("*")]
        lines = [line for log in logs for line in log.read_text(errors="replace").splitlines()]
        assert lines
        return [line for line in lines if TOLD.search(line)]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    home = tmp_path / "home"
    file = tmp_path / "family.json"
    file.write_bytes(family_file())
    one = Server(home)
    assert one.command("user", "add", "consultant", "--admin", given=PASSPHRASE) == 0
    assert one.command("import", str(file), "--confirm") == 0
    process = one.start()
    try:
        one.ask("POST", "/sign-in/", username="consultant", password=PASSPHRASE)
        assert one.ask("GET", f"/families/{FAMILY}/") == 200
        yield one
    finally:
        process.terminate()
        process.wait(timeout=20)


def test_nothing_about_a_patient_is_written_whatever_goes_wrong(server: Server) -> None:
    page, name = f"/families/{FAMILY}/", quote(NAME)
    assert server.ask("GET", f"/{name}/?q={name}") == 404
    assert server.ask("GET", f"{page}enter/{name}/") == 404
    assert server.ask("GET", f"{page}?as_of={name}") == 400
    assert server.ask("POST", f"{page}enter/weight/", weight=NAME, when=TYPED) == 200
    assert server.ask("POST", f"{page}enter/note/", csrfmiddlewaretoken=NAME, text=TYPED) == 403
    assert server.ask("POST", "/", q=NAME) == 200
    assert server.ask("GET", page, host=quote(NAME.replace(" ", "-"))) == 400
    assert server.ask("POST", "/sign-in/", username=NAME, password=TYPED) in {200, 302}

    # A kept rank that cannot be read is made anew.
    server.damage(f"UPDATE record_standing SET payload = '{NAME}', reason = '{TYPED}'")
    assert server.ask("GET", "/") == 200
    server.damage(
        "UPDATE record_entry SET fact = json_set(fact, '$.weight_g',"
        f" '{NAME}') WHERE kind = 'weight'",
        f"UPDATE record_entry SET fact = json_set(fact, '$.sex', '{NAME}') WHERE kind = 'birth'",
        "DELETE FROM record_standing",
    )
    assert server.ask("GET", page) == 503
    server.refresh_until("RECORD-010")
    assert server.command("verify") == 6
    server.damage(
        "INSERT INTO record_policyversion (id, entered_at, entered_by, policy) VALUES"
        f" ('{'0' * 32}', '2026-01-01', 'x', '{{\"zone\": [\"{NAME}\"]}}')"
    )
    assert server.ask("GET", "/") == 503
    server.damage("ALTER TABLE record_infant RENAME COLUMN position TO place")
    assert server.ask("GET", page) in {500, 503}
    server.damage("ALTER TABLE django_session RENAME COLUMN session_data TO gone")
    assert server.ask("GET", page) in {500, 503}
    assert server.told() == []
