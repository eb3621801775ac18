"""A sample of the fuzzer: whatever is sent, the program refuses it in words or takes it; it never fails."""

from __future__ import annotations

import gzip
import os
from typing import Any
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tool_modules import tool_module
from web.story import FAMILY

pytestmark = pytest.mark.both_engines

fuzz = tool_module("attack.fuzz")
hostile = tool_module("attack.hostile")
wire = tool_module("attack.wire")

REQUESTS = int(os.environ.get("SUFFICE_FUZZ", "120"))
"""`make attack` sends 20,000, to a server."""
STARTS = [
    "/",
    "/families/new/",
    f"/families/{FAMILY}/",
    "/import/",
    "/policy/",
    "/users/",
    "/bench/",
]
SPARED = {"/sign-out/", "/account/passphrase/", "/sign-in/"}


def asking(page: Client) -> Any:
    """Sends what the fuzzer makes to the program in this process."""

    def ask(sent: Any) -> Any:
        headers = {
            name: value.encode("latin-1", "replace").decode("latin-1")
            for name, value in sent.headers
            if name not in {"Cookie", "Content-Type"}
        }
        kind = dict(sent.headers).get("Content-Type", "application/x-www-form-urlencoded")
        answer = page.generic(sent.method, sent.path, sent.body, content_type=kind, headers=headers)
        is_page = answer.headers.get("Content-Type", "").startswith("text/html")
        html = answer.content.decode("utf-8", "replace") if is_page else ""
        return fuzz.Got(answer.status_code, answer.headers.get("Location", ""), html)

    return ask


@pytest.mark.slow
@pytest.mark.parametrize("seed", [20261129])
def test_nothing_that_is_sent_is_answered_with_a_failure(
    page: Client, family: UUID, seed: int
) -> None:
    page.raise_request_exception = False
    fuzzer = fuzz.Fuzzer(asking(page), seed, STARTS, lambda: "x" * 64, SPARED)
    found = fuzzer.run(REQUESTS)
    assert [f"{status} {sent}" for status, sent in found.failures] == []
    assert {200, 302, 404} <= set(found.statuses), "it has not come beyond the first page"


def test_fuzzer_counts_an_answer_of_500() -> None:
    """A fuzzer that cannot fail would find nothing."""
    fuzzer = fuzz.Fuzzer(lambda _sent: fuzz.Got(500), 1, ["/"], str)
    assert len(fuzzer.run(5).failures) == 5
    assert not fuzz.Fuzzer(lambda _sent: fuzz.Got(503), 1, ["/"], str).run(5).failures


def test_fuzzer_counts_who_was_led_away() -> None:
    """Twenty thousand requests that only meet the page of a second factor would find nothing."""
    led = fuzz.Fuzzer(lambda _sent: fuzz.Got(302, "/account/codes/"), 1, ["/"], str).run(1)
    assert led.led_away == 1
    assert "1 led away, 0 shapes of addresses gave a page" in str(led)
    come = fuzz.Fuzzer(lambda _sent: fuzz.Got(200, "", "<p>"), 1, ["/"], str).run(5)
    assert (come.led_away, come.shapes) == (0, {"/"})


def test_a_packed_page_is_read_as_what_it_says() -> None:
    """Read as it came, its bytes may look like markup that no parser takes, and the attack ends early."""
    packed = wire.Answer(200, {"content-encoding": "gzip"}, gzip.compress("<p>é".encode()))
    assert packed.text == "<p>é"
    assert wire.Answer(200, {}, b"<p>").text == "<p>"


def test_no_file_makes_the_import_fail(page: Client) -> None:
    """Each is sent, looked at, and imported as it stands."""
    failed = []
    for name, content in hostile.files(fuzz.random.Random(1)).items():
        sent = page.post("/import/", {"file": _file(content), "family": ""})
        answers = [sent]
        if sent.status_code == 302:
            answers.append(page.get(sent["Location"]))
            answers.append(page.post(sent["Location"], {"import": "1", "whole": "1"}))
        failed += [(name, one) for one in answers if one.status_code not in {200, 302}]
    assert failed == []


def _file(content: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile("file.csv", content)
