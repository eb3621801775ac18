"""A clinic that says 'mother' reads 'mother' on every page of a family."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.utils import timezone

from suffice.care.clinic.clinic import change_policy
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Sign
from web.story import FAMILY, an_id

HERE = f"/families/{FAMILY}/"
PAGES = ("", "looks-wrong/", "enter/sign/?sign=chest_pain", "enter/handover/", "papers/")


@pytest.mark.parametrize(
    ("word", "other"), [("mother", r"\b[Tt]he parent\b|\bParent\b"), ("parent", r"\b[Mm]other\b")]
)
def test_the_clinics_word_stands_on_every_page(
    page: Client, family: UUID, word: str, other: str
) -> None:
    """'The mother has a fever' stood beside 'Parent: chest pain' and 'For the parent:'."""
    change_policy(uuid4(), {"parent_word": word}, now=datetime.now(UTC), actor="consultant")
    at = {"when": f"{timezone.now():%Y-%m-%dT%H:%M}", "basis": "measured"}
    sign = at | {"entry_id": str(an_id("sign")), "sign": "chest_pain", "present": "yes"}
    hot = at | {"entry_id": str(an_id("hot")), "infant": "parent", "temperature": "38.6"}
    answer = page.post(f"{HERE}enter/sign/", sign | {"basis": "observed"})
    assert answer.status_code == 302, answer.content.decode()
    page.post(f"{HERE}enter/temperature/", hot | {"site": "axilla"})
    assert any(isinstance(one.fact, Sign) for one in record_of(FAMILY).entries)
    first = page.get(HERE).content.decode()
    assert f"For the {word}:" in first
    assert f"{word.capitalize()}: " in first
    for path in PAGES:
        answer = page.get(HERE + path)
        assert answer.status_code == 200, path
        text = re.sub(r"<[^>]+>|&[a-z#0-9]+;", " ", answer.content.decode())
        assert re.findall(f".{{0,30}}(?:{other}).{{0,30}}", text) == [], path
