"""The tables themselves: many cases from every door, each told by a code that the manual explains."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

from bad_input.table import DOORS, cases, problems

ROOT = Path(__file__).resolve().parents[2]
LEAST = {"forms": 30, "csv": 20, "family_json": 20, "cli": 15}
NOT_OURS = frozenset({"usage", "404"})
"""What the parser of the command line says itself; the page for an address that leads nowhere."""


@pytest.fixture
def render(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT))
    sys.modules.pop("tools", None)
    from tools import render_bad_input  # noqa: PLC0415  # of this checkout

    return render_bad_input


@pytest.mark.parametrize("door", DOORS)
def test_every_door_has_its_cases_each_once(door: str) -> None:
    entered = [case["entered"] for case in cases(door)]
    assert len(entered) >= LEAST[door]
    assert len(set(entered)) == len(entered)


@pytest.mark.parametrize("door", DOORS)
def test_every_case_is_told_by_a_code_of_the_manual(door: str) -> None:
    manual = set(
        re.findall(r"^### ([A-Z]+-\d{3})$", (ROOT / "docs" / "errors.md").read_text(), re.MULTILINE)
    )
    told = {
        code
        for case in cases(door)
        if case["then"] != "stored"
        for code, _at, _message in problems(case)
    }
    assert told - NOT_OURS <= manual


@pytest.mark.parametrize("door", DOORS)
def test_a_message_says_what_is_wrong_and_what_to_do_next(door: str) -> None:
    """At least two sentences, or a sentence and a question."""
    short = [
        message
        for case in cases(door)
        if case["then"] != "stored" and not case.get("choices")
        for code, _at, message in problems(case)
        if code not in NOT_OURS and len(re.findall(r"[.?](?:\s|$)", message)) < 2
    ]
    assert short == []


def test_the_page_of_the_manual_is_the_tables(render: ModuleType) -> None:
    assert render.PAGE.read_text(encoding="utf-8") == render.rendered()
