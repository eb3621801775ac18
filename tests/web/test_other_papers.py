"""Papers that a contact may owe beside plan, note and letter: labels, the shift's hand-over, the class kit."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import UUID

import pytest
from django.test import Client

from suffice.care.family.recording import record_entry
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id

CONTACT = f"/families/{FAMILY}/contact/"


@pytest.fixture
def contact(page: Client, family: UUID) -> None:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start")), "goal": "only the breast"})


def links_of(page: Client) -> dict[str, str]:
    """What the list of other papers holds: name to where it leads."""
    html = page.get(CONTACT).content.decode()
    listed = re.search(r'<ul class="links soft".*?</ul>', html, re.DOTALL)
    assert listed is not None
    return {
        unescape(name): unescape(to)
        for to, name in re.findall(r'href="([^"]+)">([^<]+)<', listed[0])
    }


def test_labels_hand_over_and_class_kit_are_one_link_from_a_contact(
    page: Client, contact: None
) -> None:
    found = links_of(page)
    assert list(found) == [
        "Milk on hand",
        "Hand-over of the shift (paper)",
        "Kit of a parents' class",
    ]
    assert all(page.get(to).status_code == 200 for to in found.values())


def test_of_milk_that_is_kept_the_labels_themselves_are_one_link_away(
    page: Client, contact: None
) -> None:
    stored = domain.MilkStored(milk="expressed", volume_ml=40.0, place="fridge")
    now = datetime.now(UTC)
    kept = domain.Entry(
        id=an_id("kept milk"), fact=stored, basis=domain.Basis.OBSERVED, true_at=now - timedelta(hours=1),
        entered_at=now, entered_by="consultant", infant_id=an_id("infant 2"),
    )  # fmt: skip
    record_entry(FAMILY, kept, now=now)
    found = links_of(page)
    (labels,) = [to for name, to in found.items() if name.startswith("Labels (paper)")]
    assert "Milk on hand" not in found
    assert page.get(labels)["Content-Type"] == "application/pdf"
