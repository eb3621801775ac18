"""Calls a WSGI application with a request that was read whole, and takes its answer whole."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterable, Mapping, MutableMapping
from contextlib import closing, nullcontext
from typing import Any, Protocol, cast

import msgspec

Scope = Mapping[str, Any]
Headers = list[tuple[bytes, bytes]]


class Application(Protocol):
    """A WSGI application."""

    def __call__(self, environ: dict[str, Any], start_response: Any, /) -> Iterable[bytes]:
        """Answer a request."""
        ...


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """An answer, whole."""

    status: int
    headers: Headers
    body: bytes


def environ_of(scope: Scope, body: bytes) -> dict[str, Any]:
    """The request as WSGI has it.

    A header whose name has an underscore is left out: in `environ` it could not be told from the one
    with a hyphen, and would let a client say what only a proxy may.
    """
    server = scope.get("server") or ("localhost", 80)
    environ: dict[str, Any] = {
        "REQUEST_METHOD": scope["method"],
        "SCRIPT_NAME": "",
        "PATH_INFO": scope["path"].encode("utf-8", "surrogatepass").decode("latin-1"),
        "QUERY_STRING": scope["query_string"].decode("latin-1"),
        "SERVER_NAME": str(server[0]),
        "SERVER_PORT": str(server[1]),
        "SERVER_PROTOCOL": f"HTTP/{scope['http_version']}",
        "REMOTE_ADDR": (scope.get("client") or ("", 0))[0],
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.get("scheme", "http"),
        "wsgi.input": io.BytesIO(body),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    _add_headers(environ, scope["headers"])
    environ["CONTENT_LENGTH"] = str(len(body))  # of what there is; nobody's word is taken for it
    return environ


def _add_headers(environ: MutableMapping[str, Any], headers: Iterable[tuple[bytes, bytes]]) -> None:
    for raw_name, raw_value in headers:
        if b"_" in raw_name:
            continue
        name = raw_name.decode("latin-1").upper().replace("-", "_")
        key = name if name == "CONTENT_TYPE" else f"HTTP_{name}"
        value = raw_value.decode("latin-1")
        if key in environ:
            mark = "; " if name == "COOKIE" else ","
            value = f"{environ[key]}{mark}{value}"
        environ[key] = value


def call(application: Application, environ: dict[str, Any]) -> Answer:
    """The application's answer to a request."""
    started: dict[str, Any] = {}
    written: list[bytes] = []

    def start_response(
        status: str, headers: list[tuple[str, str]], exc_info: object = None
    ) -> object:
        del exc_info  # nothing has been sent yet, so the last answer that was begun is the one
        started.update(status=int(status.split(" ", 1)[0]), headers=headers)
        return written.append

    chunks = application(environ, start_response)
    with closing(cast("Any", chunks)) if hasattr(chunks, "close") else nullcontext():
        written.extend(chunks)
    headers = [
        (name.lower().encode("latin-1"), value.encode("latin-1"))
        for name, value in started["headers"]
    ]
    return Answer(status=started["status"], headers=headers, body=b"".join(written))
