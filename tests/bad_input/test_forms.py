"""Bad input in forms: said at the field, to the letter; nothing stored, nothing typed lost."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.utils.html import escape

from bad_input.family import FAMILY, IDS, everything_stored
from bad_input.forms_door import PAGE_MARKS, address, typed, usual
from bad_input.shown_page import ShownPage
from bad_input.table import cases, filled, named, problems

CASES = cases("forms")
TOLD = [case for case in CASES if case["then"] != "stored"]
ASKED = [case for case in CASES if case["then"] == "asked"]
STORED = [case for case in CASES if case["then"] == "stored"]


def sent(page: Client, case: dict[str, Any], answers: list[tuple[str, str]] = ()) -> HttpResponse:
    """Send the form of a case as a browser does, with the answers that were ticked."""
    body: dict[str, Any] = usual(case) | typed(case, IDS)
    if case["form"] == "policy":  # long, and it follows the content: sent as it is shown
        shown = ShownPage(page.get(address(case)).content.decode())
        body = {name: held[-1] for name, held in shown.fields.items()} | body
    if case["form"] == "import":
        body = {"file": SimpleUploadedFile("family.json", typed(case, IDS)["file"].encode())}
    for name, token in answers:
        body.setdefault(name, []).append(token)
    return page.post(address(case), body)


def expected(case: dict[str, Any]) -> list[tuple[str, str]]:
    """(place, words) of all that must be said."""
    return [
        (at, " ".join(filled(f"{message} ({code})", IDS).split()))
        for code, at, message in problems(case)
    ]


@pytest.mark.parametrize("case", TOLD, ids=named)
def test_it_is_said_to_the_letter_and_nothing_is_stored_or_lost(
    page: Client, case: dict[str, Any]
) -> None:
    before = everything_stored()
    answer = sent(page, case)
    assert everything_stored() == before
    shown = ShownPage(answer.content.decode())
    if case.get("at") == "the page":
        assert answer.status_code == int(case["code"])
        for sentence in case["message"].split(". "):
            assert sentence.rstrip(".") in shown.text
        return
    assert answer.status_code == 200
    for place in dict(expected(case)):
        words = [one for at, one in expected(case) if at == place]
        found = shown.said(place)
        if place == "the whole form":
            assert [line.endswith(words[0]) for line in found] == [True]
        else:
            assert found == words
    kept = {
        name: text
        for name, text in typed(case, IDS).items()
        if name not in shown.choices | PAGE_MARKS and case["form"] != "import"
    }
    assert {name: shown.fields[name] for name in kept} == {n: [text] for n, text in kept.items()}
    assert [words for _name, _token, words in shown.answers] == case.get("choices", [])


@pytest.mark.parametrize("case", ASKED, ids=named)
def test_a_doubt_that_is_answered_is_stored(page: Client, case: dict[str, Any]) -> None:
    """A browser sends the answer shown and those that the page keeps; a few rounds may be asked."""
    before = everything_stored()
    answers: list[tuple[str, str]] = []
    for _round in range(3):
        answer = sent(page, case, answers)
        if answer.status_code == 302:
            break
        assert everything_stored() == before
        shown = ShownPage(answer.content.decode())
        kept = [one for one in shown.sent_along if one[0].endswith("-meant")]
        assert shown.answers, shown.above
        answers = [*kept, shown.answers[0][:2]]
    assert answer.status_code == 302, (shown.said_at, answers)
    assert everything_stored() != before


@pytest.mark.parametrize("case", STORED, ids=named)
def test_odd_text_is_stored_as_text_and_shown_as_text(page: Client, case: dict[str, Any]) -> None:
    before = everything_stored()
    assert sent(page, case).status_code == 302
    assert everything_stored() != before
    html = page.get(f"/families/{FAMILY}/entries/").content.decode()
    (text,) = typed(case, IDS).values()
    assert escape(text) in html
    assert "<script>alert" not in html
