"""A published score at a contact: its total is computed, stored once, and shown with its reliability."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.contact.visit import Visit
from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, INFANT, LATCH, text_of, visit

SCORE = f"{CONTACT}score/latch/"
NUMBERS = {"attachment": 2, "swallowing": 1, "nipple": 2, "comfort": 0, "hold": 2}


@pytest.fixture
def contact(page: Client, family: UUID) -> Visit:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    return visit()


def sent(**changed: str) -> dict[str, str]:
    numbers = {f"n-{key}": str(number) for key, number in NUMBERS.items()}
    return {"key": str(an_id("score")), "infant": INFANT} | numbers | changed


def scores() -> list[domain.Entry]:
    return [
        one for one in standing(record_of(FAMILY).entries) if isinstance(one.fact, domain.Score)
    ]


def test_a_total_is_the_sum_of_its_numbers_stored_once_and_of_this_contact(
    page: Client, contact: Visit
) -> None:
    for _ in range(2):
        assert page.post(SCORE, sent())["Location"] == f"{SCORE}?infant={INFANT}"
    (entry,) = scores()
    assert entry.fact == domain.Score(
        score="latch", total=7, points="2, 1, 2, 0, 2", contact_id=contact.id
    )
    assert str(entry.infant_id) == INFANT


def test_its_reliability_stands_beside_every_total(page: Client, contact: Visit) -> None:
    assert "LATCH score" in text_of(page, LATCH)
    assert "rank correlations" not in text_of(page, LATCH)
    page.post(SCORE, sent())
    for path in (LATCH, SCORE):
        text = text_of(page, path)
        assert "7 of 10" in text
        assert "rank correlations .11, .46 and .48" in text
        assert "Riordan 1997" in text
    assert "no rule of Suffice reads it" in text_of(page, SCORE)
    assert "from memory, to verify" in text_of(page, f"{CONTACT}score/nipple_trauma/")


def test_a_total_of_some_numbers_is_no_total_and_what_was_chosen_stays(
    page: Client, contact: Visit
) -> None:
    answer = page.post(SCORE, sent(**{"n-hold": ""}))
    assert answer.status_code == 200
    assert "a total of some of them is no total" in answer.content.decode()
    assert answer.content.decode().count(" checked") == len(NUMBERS) - 1
    assert scores() == []


@pytest.mark.parametrize(
    "changed",
    [{"n-hold": "3"}, {"n-hold": "-1"}, {"n-hold": "two"}, {"key": "x"}, {"infant": str(uuid4())}],
)
def test_what_no_page_sends_is_no_score(
    page: Client, contact: Visit, changed: dict[str, str]
) -> None:
    assert page.post(SCORE, sent(**changed)).status_code == 400
    assert scores() == []


def test_the_score_of_the_nipple_is_the_parents_and_no_score_is_without_a_contact(
    page: Client, family: UUID
) -> None:
    path = f"{CONTACT}score/nipple_trauma/"
    assert page.get(path)["Location"] == CONTACT
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    page.post(path, {"key": str(uuid4()), "n-grade": "4"})
    (entry,) = scores()
    assert (entry.infant_id, entry.fact.total) == (None, 4)  # type: ignore[union-attr]
    assert page.get(f"{CONTACT}score/moon/").status_code == 404
    assert "4 of 5" in text_of(page, f"{CONTACT}nipple/")
    assert "LATCH" not in text_of(page, f"{CONTACT}nipple/")
