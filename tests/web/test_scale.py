"""Pain at a contact is tapped on a scale."""

from __future__ import annotations

import re

from django.test import Client

from suffice.care.contact.visit import Visit
from web.test_contact import CONTACT, tap
from web.test_drawing import contact

__all__ = ["contact"]


def test_pain_is_tapped_and_half_a_point_of_before_is_still_shown(
    page: Client, contact: Visit
) -> None:
    pain = f"{CONTACT}pain/"
    page.post(f"{pain}answer/", tap(contact, "pain_start", "7", infant=None))
    page.post(f"{pain}answer/", tap(contact, "pain_end", "4.5", infant=None))
    html = page.get(pain).content.decode()
    pressed = re.findall(r'data-value="([^"]+)"\s+aria-pressed="true"', html)
    assert pressed == ["7"]
    assert '<p class="soft">4.5</p>' in html
    assert 'id="given-pain_start' not in html
