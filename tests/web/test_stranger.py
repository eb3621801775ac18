"""Every address of the program in every method, asked by somebody who has not signed in."""

from __future__ import annotations

from uuid import UUID

import pytest
from django.test import Client

from tool_modules import tool_module
from web.story import FAMILY, NAME, an_id

stranger = tool_module("attack.stranger")
IDS = {
    "family_id": str(FAMILY),
    "entry_id": str(an_id("weight 1 3")),
    "key": "history",
    "which": "latch",
    "kind": "weight",
}


@pytest.mark.parametrize("pattern", stranger.patterns())
def test_stranger_is_given_nothing(family: UUID, consultant: object, pattern: str) -> None:
    address = stranger.filled(pattern, IDS)
    # Form tokens are not asked for: they would hide a page that does not ask who comes.
    browser = Client(enforce_csrf_checks=False)
    for method in stranger.METHODS:
        answer = browser.generic(method, address)
        location = answer.headers.get("Location", "")
        assert stranger.allowed(pattern, answer.status_code, location), (method, answer)
        assert NAME not in answer.content.decode()


def test_every_part_of_an_address_is_filled() -> None:
    assert not [one for one in stranger.patterns() if "<" in stranger.filled(one, IDS)]
