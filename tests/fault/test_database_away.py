"""The database goes away under a running server: every page says so with 503, and works once it is back."""

from __future__ import annotations

import signal

import pytest

from postgres import Server
from tool_modules import tool_module

server = tool_module("attack.server")
wire = tool_module("attack.wire")

PATHS = [
    "/",
    "/families/new/",
    "/import/",
    "/policy/",
    "/users/",
    "/account/",
    "/sign-in/",
    "/nowhere/",
]


@pytest.mark.slow
@pytest.mark.postgres
def test_every_page_says_so_and_works_again(postgres: Server) -> None:
    url = postgres.create_database("away")
    with server.running("--workers", "1", database_url=url) as running:
        session = wire.Session(running.port)
        session.sign_in()
        postgres.stop(signal.SIGKILL)
        try:
            for path in PATHS:
                answer = session.get(path)
                assert answer.status == 503, path
                assert answer.headers["retry-after"]
                for word in ("psycopg", "Operational", "5432", str(postgres.port), "Traceback"):
                    assert word not in answer.text
            assert session.post("/families/new/", {"name": "x"}).status == 503
            assert session.get("/static/suffice/suffice.css").status == 200
        finally:
            postgres.start()
        assert session.get("/").status == 200
        session.close()
