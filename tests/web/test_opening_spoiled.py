"""Opening a family of two to ten infants with whatever may be sent: refused in words, or opened once."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

import pytest
from django.contrib.sessions.models import Session
from django.db import connections
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.record import models, repository
from tool_modules import tool_module
from web.test_opening import NEW, sent

pytestmark = pytest.mark.both_engines

hostile = tool_module("attack.hostile")

ENDS_OF_TIME = (
    b"0001-01-01T00:00+14:00",
    b"9999-12-31T23:59-14:00",
    b"9999-12-31T23:59:59.999999-14:00",
    b"0001-01-01T00:00:00.0+14:00",
)


def post(page: Client, form: dict[str, Any]) -> Any:
    """Send a form whose values may be any bytes."""
    return page.post(NEW, urlencode(form), content_type="application/x-www-form-urlencoded")


def unborn(count: int) -> dict[str, str]:
    """Infants of whose birth nothing is known yet: nothing of them is doubtful."""
    facts = ("born", "birth_weight", "gestation", "mode", "sex")
    return {
        name: "" if name.rpartition("-")[2] in facts else value
        for name, value in sent(count).items()
    }


def spoiled(name: str, value: bytes, count: int) -> dict[str, Any]:
    return sent(count) | {name: value}


@pytest.mark.parametrize("value", ENDS_OF_TIME)
def test_a_page_that_says_it_was_opened_at_the_end_of_time(page: Client, value: bytes) -> None:
    """An instant that cannot be said in UTC was answered with 500."""
    answer = post(page, spoiled("opened", value, 6))
    assert answer.status_code == 200
    assert "FORM-007" in answer.content.decode()
    assert repository.family_ids() == ()


@pytest.mark.parametrize("digits", [29, 30, 60])
def test_a_gestation_of_more_digits_than_a_decimal_has(page: Client, digits: int) -> None:
    """It was answered with 500, in the last field of the last of six infants as anywhere."""
    answer = post(page, spoiled("infant-6-gestation", b"9" * digits, 6))
    assert answer.status_code == 200
    assert "READ-00" in answer.content.decode()
    answer = post(page, spoiled("infant-2-birth_weight", b"9" * digits + b" lb 4 oz", 2))
    assert answer.status_code == 200
    assert repository.family_ids() == ()


@pytest.mark.slow
def test_each_odd_value_in_some_field_of_some_number_of_infants(page: Client) -> None:
    dice, failed = random.Random(20261129), []
    for value in (*hostile.VALUES, *ENDS_OF_TIME):
        count = dice.randint(2, 10)
        whole = dice.choice((sent, unborn))(min(count, 6))
        form: dict[str, Any] = whole | {"infants_count": str(count)}
        name = dice.choice([*form, "add-infant", "form-meant", f"infant-{count}-born-meant"])
        answer = post(page, form | {name: value[:4000]})
        if answer.status_code == 302:
            answer = page.get(answer["Location"])
        if answer.status_code != 200:
            failed.append((name, value[:60], answer.status_code))
    assert failed == []


def test_ten_infants_are_the_six_that_a_form_takes(page: Client) -> None:
    form = sent(6) | {"infants_count": "10"}
    assert "FORM-0" in page.post(NEW, form).content.decode()
    assert repository.family_ids() == ()


def test_an_id_that_another_family_has_is_refused_whatever_else_is_sent(
    page: Client, family: UUID
) -> None:
    before = record_of(family)
    answer = page.post(NEW, unborn(6) | {"family_id": str(family)})
    assert answer.status_code == 200
    assert "RECORD-008" in answer.content.decode()
    assert record_of(family) == before


def test_the_same_form_again_with_fewer_infants_changes_nothing(page: Client) -> None:
    form = unborn(6)
    assert page.post(NEW, form).status_code == 302
    before = record_of(UUID(form["family_id"]))
    again = page.post(NEW, form | {"infants_count": "5"})
    assert again.status_code == 200
    assert "RECORD-008" in again.content.decode()
    assert record_of(UUID(form["family_id"])) == before


def test_a_session_that_ended_while_somebody_typed_stores_nothing(page: Client) -> None:
    form = unborn(6)
    page.get(NEW)
    Session.objects.all().delete()
    answer = page.post(NEW, form)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")
    assert repository.family_ids() == ()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_one_form_sent_by_many_at_once_opens_one_family(page: Client) -> None:
    form = unborn(6)
    session = page.cookies["sessionid"].value

    def post(_nth: int) -> int:
        client = Client()
        client.cookies["sessionid"] = session
        try:
            return client.post(NEW, form).status_code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(post, range(8))) == {302}
    assert repository.family_ids() == (UUID(form["family_id"]),)
    assert models.Infant.objects.count() == 6


def test_many_families_sent_at_once_share_no_id(page: Client) -> None:
    early = datetime.now(UTC) - timedelta(days=1)
    first = sent(2) | {"family_id": str(uuid4()), "opened": early.isoformat()}
    second = first | {"family_id": str(uuid4())}
    assert page.post(NEW, first).status_code == page.post(NEW, second).status_code == 302
    assert models.Infant.objects.count() == 4
