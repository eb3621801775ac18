"""Numbers and units stay in one line of a page, and nothing else of the page changes."""

from __future__ import annotations

import pytest
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from hypothesis import given
from hypothesis import strategies as st

from suffice.web.site.together import TogetherMiddleware, together


@pytest.mark.parametrize(
    ("html", "sent"),
    [
        ("<p>Only 2 wets in 24 h</p>", "<p>Only 2 wets in 24~h</p>"),
        ('<p title="in 24 h">9.1 %</p>', '<p title="in 24 h">9.1~%</p>'),
        (
            '<option value="3 in 24 h">3 in 24 h</option> 5 g',
            '<option value="3 in 24 h">3 in 24 h</option> 5~g',
        ),
        ("<textarea>\ngave 20 mL</textarea> 20 mL", "<textarea>\ngave 20 mL</textarea> 20~mL"),
        (
            "<script>if (3 < 4 && 5 > 4) x = '24 h'</script>24 h",
            "<script>if (3 < 4 && 5 > 4) x = '24 h'</script>24~h",
        ),
        ("<style>a{margin:0 1 h}</style>1 h", "<style>a{margin:0 1 h}</style>1~h"),
        (
            "<!-- 24 h --><pre>24 h</pre><code>24 h</code>24 h",
            "<!-- 24 h --><pre>24 h</pre><code>24 h</code>24~h",
        ),
        ("24 h without a tag", "24~h without a tag"),
        ("<title>24 h</title>", "<title>24 h</title>"),
        ("", ""),
    ],
)
def test_a_text_is_bound_and_what_is_run_or_sent_back_is_not(html: str, sent: str) -> None:
    assert together(html) == sent.replace("~", "\u00a0")


@pytest.mark.parametrize(
    "turns", [*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))]
)
def test_no_name_turns_the_digits_behind_it(turns: str) -> None:
    sent = together(f'<p title="{turns}">Ana{turns}: 3410 to 3080 g</p><input value="{turns}">')
    assert sent == f'<p title="{turns}">Ana: 3410 to 3080\u00a0g</p><input value="{turns}">'
    assert together("<p>أمل: 12</p>") == "<p>أمل: 12</p>", "letters keep their own direction"


@given(st.text(alphabet='0123456789 <>/hg%"pscript=!-', max_size=60))
def test_whatever_the_page_only_spaces_change(html: str) -> None:
    assert together(html).replace("\u00a0", " ") == html


def answered(response: HttpResponse | StreamingHttpResponse) -> HttpResponse:
    return TogetherMiddleware(lambda _: response)(HttpRequest())  # type: ignore[arg-type, return-value]


def test_a_page_says_its_new_length() -> None:
    page = HttpResponse("<p>in 24 h</p>")
    page["Content-Length"] = str(len(page.content))
    sent = answered(page)
    assert sent.content.decode() == "<p>in 24\u00a0h</p>"
    assert sent["Content-Length"] == str(len(sent.content))


@pytest.mark.parametrize("kind", ["application/json", "text/csv", "image/svg+xml"])
def test_what_programs_read_keeps_plain_spaces(kind: str) -> None:
    assert answered(HttpResponse("in 24 h", content_type=kind)).content == b"in 24 h"


def test_what_is_sent_piece_by_piece_is_left() -> None:
    assert answered(StreamingHttpResponse(iter([b"in 24 h"]))).streaming


def test_a_text_of_a_million_digits_is_read_once():
    """Were each of its digits looked at from every place before it, this would not end today."""
    digits = "7" * 1_000_000
    assert together(f"<p>{digits} h</p>") == f"<p>{digits}\u00a0h</p>"
