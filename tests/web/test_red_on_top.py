"""The red flags of a family stand on top of every page on which somebody works at it."""

from __future__ import annotations

from uuid import UUID

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from web import test_photograph
from web.story import FAMILY
from web.test_contact import CONTACT, contact
from web.test_photograph import agreed

__all__ = ["agreed", "contact"]
pytestmark = pytest.mark.django_db(transaction=True)
HERE = f"/families/{FAMILY}/"
PAGES = (
    "",
    "contact/",
    "contact/latch/",
    "contact/score/latch/",
    "plan/",
    "feed/",
    "photograph/",
    "papers/",
    "milk/",
    "log/",
)


def is_on_top(page: Client, path: str) -> bool:
    """Whether a red flag stands before the first button of the page's own."""
    answer = page.get(path, follow=True)
    assert answer.status_code == 200, path
    html = answer.content.decode().partition("<main")[2]
    flags, form = html.find('class="red-flags"'), html.find("<form")
    return flags > 0 and (form < 0 or flags < form or path == HERE)


@pytest.mark.parametrize("place", PAGES)
def test_a_red_flag_stands_on_top(page: Client, contact: Visit, place: str) -> None:
    """One of the twins of the story has lost 12 % of birth weight."""
    assert is_on_top(page, f"{HERE}{place}")


def test_it_stands_on_the_start_of_a_contact_and_on_a_photograph(
    page: Client, agreed: UUID
) -> None:
    assert is_on_top(page, CONTACT)
    assert is_on_top(page, test_photograph.kept(page))
