"""What a request names: ids and infants of the family, and nothing else."""

from __future__ import annotations

from uuid import UUID

import pytest
from django.core.exceptions import BadRequest
from django.http import Http404
from django.test import RequestFactory

from suffice.clinical.entry import Infant, Record
from suffice.web.fields.sent import infant_asked, infant_named, sent_id

FIRST, SECOND = UUID(int=1), UUID(int=2)
TWINS = Record(
    family_id=UUID(int=9),
    infants=(Infant(id=SECOND, position=2), Infant(id=FIRST, position=1)),
    entries=(),
)
NOBODY = Record(family_id=UUID(int=8), infants=(), entries=())
ASKED = RequestFactory()


def test_an_id_is_read_and_nothing_else() -> None:
    assert sent_id(ASKED.post("/", {"key": str(FIRST)}), "key") == FIRST
    for wrong in ({}, {"key": ""}, {"key": "x"}, {"other": str(FIRST)}):
        with pytest.raises(BadRequest):
            sent_id(ASKED.post("/", wrong), "key")


@pytest.mark.parametrize("asks", [infant_named, infant_asked])
def test_the_infant_that_is_named_else_the_first_born(asks) -> None:
    assert asks(ASKED.get("/"), TWINS) == FIRST
    assert asks(ASKED.get("/", {"infant": str(SECOND)}), TWINS) == SECOND
    assert asks(ASKED.post(f"/?infant={FIRST}", {"infant": str(SECOND)}), TWINS) == SECOND
    for wrong in ("x", str(UUID(int=3))):
        with pytest.raises(BadRequest):
            asks(ASKED.get("/", {"infant": wrong}), TWINS)


def test_a_family_without_an_infant_has_no_page_about_one() -> None:
    assert infant_named(ASKED.get("/"), NOBODY) is None
    with pytest.raises(Http404):
        infant_asked(ASKED.get("/"), NOBODY)
