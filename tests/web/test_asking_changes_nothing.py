"""Asking for a page changes nothing: a link, a picture or a browser that looks ahead can do nothing in anybody's name."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.test import Client

from suffice.care.clinic.roles import Duty, Role
from web.test_access_matrix import NEEDS, PATTERNS, address, clinic, signed_in  # noqa: F401 -- a fixture

pytestmark = pytest.mark.both_engines

BY_ITSELF: Final = {
    "sessions.Session": "when it was last used, and what waits to be said",
    "record.TrailEvent": "that it was looked at",
    "record.Link": "that it was looked at, chained",
    "record.ChainHead": "the same",
    "record.CaseloadRow": "the list as it was last worked out",
}
"""What is kept of the looking itself, or worked out of what is there."""
LEAVES: Final = {"factor": {"record.Person"}}
"""The page that shows a secret keeps which one; it is in use once a code of it was sent."""


def rows() -> Iterator[tuple[str, list[tuple[object, ...]]]]:
    for model in apps.get_models(include_auto_created=True):
        if model._meta.label not in BY_ITSELF:
            yield model._meta.label, sorted(model._base_manager.values_list(), key=repr)


def test_no_page_that_is_asked_for_changes_anything(clinic: None) -> None:  # noqa: F811
    client: Client = signed_in("lead", Role.LEAD, "own", Duty.ADMINISTRATOR)
    User.objects.update(last_login=None)
    before = dict(rows())
    for name, (asked, _sent) in NEEDS.items():
        if asked is None:
            continue
        at = address(name, client)
        if "name" in PATTERNS[name].pattern.converters:  # a file was put there to ask for
            before = dict(rows())
        client.get(at)
        after = dict(rows())
        changed = {label for label, found in after.items() if found != before[label]}
        assert changed <= LEAVES.get(name, set()), name
        before = after


def test_a_change_would_be_seen(clinic: None) -> None:  # noqa: F811
    before = dict(rows())
    client = signed_in("lead", Role.LEAD, "own", None)
    client.post("/account/", {"full_name": "L. Invented", "profession": ""})
    changed = {label for label, found in rows() if found != before[label]}
    assert {"auth.User", "record.Member"} <= changed


def test_every_exception_is_a_table_of_the_program() -> None:
    labels = {model._meta.label for model in apps.get_models()}
    assert set(BY_ITSELF) | set.union(*LEAVES.values()) <= labels
