"""What WSGI is given of a request, and what is made of its answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.web.site.calling import call, environ_of


def scope(path: str = "/", *headers: tuple[bytes, bytes], query: bytes = b"") -> dict[str, Any]:
    return {
        "type": "http",
        "http_version": "1.1",
        "method": "POST",
        "path": path,
        "query_string": query,
        "headers": headers,
        "client": ("192.0.2.7", 4000),
        "server": ("127.0.0.1", 8000),
    }


def test_request_is_described_as_wsgi_asks() -> None:
    environ = environ_of(
        scope("/é/", (b"Host", b"clinic.example"), (b"content-type", b"a/b"), query=b"q=%C3%A9"),
        b"four",
    )
    assert environ["PATH_INFO"].encode("latin-1").decode() == "/é/"
    assert environ["QUERY_STRING"] == "q=%C3%A9"
    assert environ["HTTP_HOST"] == "clinic.example"
    assert environ["CONTENT_TYPE"] == "a/b"
    assert "HTTP_CONTENT_TYPE" not in environ
    assert environ["REMOTE_ADDR"] == "192.0.2.7"
    assert (environ["CONTENT_LENGTH"], environ["wsgi.input"].read()) == ("4", b"four")


def test_length_that_the_sender_gives_is_never_believed() -> None:
    for length in (b"0", b"9999", b"nothing"):
        environ = environ_of(scope("/", (b"content-length", length)), b"four")
        assert environ["CONTENT_LENGTH"] == "4"


def test_header_with_an_underscore_says_nothing_in_the_place_of_one_with_a_hyphen() -> None:
    environ = environ_of(
        scope("/", (b"x_forwarded_for", b"203.0.113.9"), (b"X_Forwarded_Proto", b"https")), b""
    )
    assert not [name for name in environ if "FORWARDED" in name]


def test_header_that_comes_twice_is_joined_and_a_cookie_as_cookies_are() -> None:
    environ = environ_of(
        scope(
            "/",
            (b"x-forwarded-for", b"1.2.3.4"),
            (b"x-forwarded-for", b"5.6.7.8"),
            (b"cookie", b"a=1"),
            (b"cookie", b"b=2"),
        ),
        b"",
    )
    assert environ["HTTP_X_FORWARDED_FOR"] == "1.2.3.4,5.6.7.8"
    assert environ["HTTP_COOKIE"] == "a=1; b=2"


@given(st.lists(st.binary(max_size=50), max_size=5))
def test_answer_is_taken_whole_and_its_end_is_said(chunks: list[bytes]) -> None:
    closed = []

    class Chunks:
        def __iter__(self) -> Iterator[bytes]:
            return iter(chunks)

        def close(self) -> None:
            closed.append(True)

    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Chunks:
        start_response("404 Not There", [("X-One", "é"), ("X-One", "2")])
        return Chunks()

    answer = call(application, environ_of(scope(), b""))
    assert answer.status == 404
    assert answer.headers == [(b"x-one", "é".encode("latin-1")), (b"x-one", b"2")]
    assert answer.body == b"".join(chunks)
    assert closed == [True]


def test_answer_is_closed_when_it_breaks_off() -> None:
    closed = []

    class Breaks:
        def __iter__(self) -> Iterator[bytes]:
            raise RuntimeError("broke off")

        def close(self) -> None:
            closed.append(True)

    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Breaks:
        start_response("200 OK", [])
        return Breaks()

    with pytest.raises(RuntimeError, match="broke off"):
        call(application, environ_of(scope(), b""))
    assert closed == [True]


def test_what_is_written_by_hand_comes_first() -> None:
    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> list[bytes]:
        start_response("200 OK", [])(b"first ")
        return [b"second"]

    assert call(application, environ_of(scope(), b"")).body == b"first second"
