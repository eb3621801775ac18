"""Bad input in family files: said with its place, to the letter; nothing stored."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from bad_input.family import IDS, NOW, everything_stored, problems_words
from bad_input.json_door import spoilt
from bad_input.shown_page import ShownPage
from bad_input.table import cases, filled, named, problems
from suffice.care.family.transfer import import_family
from suffice.errors import InputError

CASES = cases("family_json")
TOLD = [case for case in CASES if case["then"] != "stored"]
PAGED = [case for case in TOLD if spoilt(case, IDS).lstrip()[:1] in {b"{", b"["}]
"""The page takes any other file for a table."""
TAKEN = [case for case in CASES if case["then"] != "refused"]


def expected(case: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(code, at, filled(message, IDS)) for code, at, message in problems(case)]


@pytest.mark.parametrize("case", TOLD, ids=named)
def test_it_is_said_with_its_place_and_nothing_is_stored(
    families: None, case: dict[str, Any]
) -> None:
    before = everything_stored()
    with pytest.raises(InputError) as caught:
        import_family(spoilt(case, IDS), now=NOW, actor="importer")
    assert problems_words(caught.value) == expected(case)
    assert all(one.doubtful for one in caught.value.problems) is (case["then"] == "asked")
    assert everything_stored() == before


@pytest.mark.parametrize("case", PAGED, ids=named)
def test_page_says_the_same(page: Client, case: dict[str, Any]) -> None:
    content = spoilt(case, IDS)
    before = everything_stored()
    sent = page.post("/import/", {"file": SimpleUploadedFile("family.json", content)})
    shown = ShownPage(page.post(sent["Location"]).content.decode())
    heading = "Please confirm" if case["then"] == "asked" else "Nothing was imported"
    assert heading in shown.text
    assert shown.above == [
        f"{at}: {message} ({code})" if at else f"{message} ({code})"
        for code, at, message in expected(case)
    ]
    assert everything_stored() == before


@pytest.mark.parametrize("case", PAGED, ids=named)
def test_preview_says_the_same_before_anybody_tried(page: Client, case: dict[str, Any]) -> None:
    before = everything_stored()
    file = SimpleUploadedFile("family.json", spoilt(case, IDS))
    sent = page.post("/import/", {"file": file})
    shown = ShownPage(page.get(sent["Location"]).content.decode())
    heading = "Please confirm" if case["then"] == "asked" else "This file cannot be imported"
    assert heading in shown.text
    assert shown.above == [
        f"{at}: {message} ({code})" if at else f"{message} ({code})"
        for code, at, message in expected(case)
    ]
    assert ("They are right" in shown.text) is (case["then"] == "asked")
    assert everything_stored() == before


@pytest.mark.parametrize("case", TAKEN, ids=named)
def test_what_is_confirmed_or_only_odd_is_stored(families: None, case: dict[str, Any]) -> None:
    before = everything_stored()
    done = import_family(spoilt(case, IDS), now=NOW, actor="importer", confirmed=True)
    assert done.is_new
    assert everything_stored() != before
