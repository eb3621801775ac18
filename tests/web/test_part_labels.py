"""The parts of a contact: each field is named by its own label, and no two elements share an id."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from suffice.knowledge.store import load
from web.test_contact import CONTACT, contact

__all__ = ["contact"]
pytestmark = pytest.mark.django_db(transaction=True)
FIELDS = frozenset({"input", "select", "textarea"})


class Named(HTMLParser):
    """Ids with the elements that have them, and the ids that labels point at."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[tuple[str, str]] = []
        self.labelled: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if said.get("id"):
            self.ids.append((str(said["id"]), tag))
        if tag == "label" and said.get("for"):
            self.labelled.append(str(said["for"]))


@pytest.mark.parametrize("part", load().parts)
def test_each_label_names_its_field(page: Client, contact: Visit, part: str) -> None:
    seen = Named()
    seen.feed(page.get(f"{CONTACT}{part}/").content.decode())
    assert [one for one, count in Counter(key for key, _ in seen.ids).items() if count > 1] == []
    tags = dict(seen.ids)
    assert {one: tags.get(one) for one in seen.labelled if tags.get(one) not in FIELDS} == {}
