"""The pages of a damaged record say so first, can be read, and take nothing more."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

import pytest
from django.test import Client

from lifted import triggers_lifted
from suffice.care.family.asking import record_of
from suffice.care.verifying import check_whole
from suffice.record import models
from web.story import FAMILY

PAGE = f"/families/{FAMILY}/"
SAID = "Nothing more can be entered here"


@pytest.fixture
def damaged(family: UUID) -> UUID:
    with triggers_lifted():
        models.Entry.objects.filter(family_id=family, kind="weight").update(entered_by="x")
    assert check_whole().found
    return family


def test_every_page_of_the_family_says_so_and_can_be_read(page: Client, damaged: UUID) -> None:
    for address in (PAGE, f"{PAGE}entries/", f"{PAGE}enter/weight/", f"{PAGE}papers/"):
        answer = page.get(address)
        assert answer.status_code == 200
        assert SAID in answer.content.decode()
    assert SAID not in page.get("/").content.decode()


def test_nothing_is_entered_and_what_was_typed_is_not_lost_in_silence(
    page: Client, damaged: UUID, weigh: Callable[..., dict[str, str]]
) -> None:
    before = record_of(FAMILY).entries
    answer = page.post(f"{PAGE}enter/weight/", weigh())
    assert answer.status_code == 503
    assert "RECORD-014" in answer.content.decode()
    assert record_of(FAMILY).entries == before


def test_a_record_that_was_put_right_takes_entries_again(
    page: Client, damaged: UUID, weigh: Callable[..., dict[str, str]]
) -> None:
    with triggers_lifted():
        models.Entry.objects.filter(family_id=damaged).update(entered_by="consultant")
    assert check_whole().found == ()
    assert SAID not in page.get(PAGE).content.decode()
    assert page.post(f"{PAGE}enter/weight/", weigh()).status_code == 302
