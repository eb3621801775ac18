"""Two devices in the same instant: what 'is there one already?' decides is decided once.

Whoever looks first is held up before storing, as by a slow disk, so that the other would look meanwhile.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.test import Client

from suffice.care.contact.one_latch import standing_photos
from suffice.care.contact.visit import visit_of
from suffice.care.family import recording
from suffice.care.family.asking import record_of
from suffice.care.photographs import sealed
from suffice.clinical import entry as domain
from suffice.clinical.entry import standing
from web import test_milk, test_photograph
from web.story import FAMILY, an_id
from web.test_contact import CONTACT, INFANT, LATCH, tap
from web.test_watched_feed import WATCH, sent

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper

pytestmark = pytest.mark.django_db(transaction=True)
DEVICES = 3
HELD_UP_S = 0.3


@pytest.fixture(autouse=True)
def _held_up(monkeypatch: pytest.MonkeyPatch) -> None:
    check = recording.entry_problems

    def slow(*given: Any, **named: Any) -> Any:
        time.sleep(HELD_UP_S)
        return check(*given, **named)

    monkeypatch.setattr(recording, "entry_problems", slow)


@pytest.fixture
def at_once(page: Client, family: UUID) -> Callable[[Sequence[tuple[str, Any]]], list[int]]:
    """Sends each form from a device of its own, all in the same instant; gives the status of each answer."""
    session = page.cookies["sessionid"].value

    def send(forms: Sequence[tuple[str, Any]]) -> list[int]:
        start = Barrier(len(forms))

        def post(sent: tuple[str, Any]) -> int:
            device = Client()
            device.cookies["sessionid"] = session
            start.wait()
            try:
                return device.post(*sent).status_code
            finally:
                connections.close_all()

        with ThreadPoolExecutor(len(forms)) as pool:
            return list(pool.map(post, forms))

    return send


Send = Callable[[Sequence[tuple[str, Any]]], list[int]]


def stands(kind: type[domain.Fact]) -> list[Any]:
    found = standing(record_of(FAMILY).entries)
    return [one.fact for one in found if isinstance(one.fact, kind)]


def observed(what: str) -> list[str]:
    return [one.answer for one in stands(domain.Observation) if one.what == what]


def test_one_feed_saved_by_several_in_the_same_instant_counts_once(at_once: Send) -> None:
    began = datetime.now(UTC) - timedelta(minutes=20)
    fed, weighed = len(stands(domain.Feed)), len(stands(domain.TestWeight))
    forms = [
        (WATCH, sent(began=began + timedelta(seconds=second), before="3200", after="3250"))
        for second in range(DEVICES)
    ]
    assert at_once(forms) == [302] * DEVICES
    assert len(stands(domain.WatchedFeed)) == DEVICES
    assert (len(stands(domain.Feed)), len(stands(domain.TestWeight))) == (fed + 1, weighed + 1)


def test_a_feed_that_one_device_sends_twice_in_the_same_instant_is_stored_once(
    at_once: Send,
) -> None:
    ahead = sent(began=datetime.now(UTC) + timedelta(hours=3))
    assert at_once([(WATCH, ahead)] * DEVICES) == [302] * DEVICES
    assert len(stands(domain.WatchedFeed)) == 1


def test_a_contact_that_several_start_is_one(at_once: Send) -> None:
    forms = [(CONTACT, {"place": "home", "key": str(uuid4())}) for _device in range(DEVICES)]
    assert at_once(forms) == [302] * DEVICES
    assert len(stands(domain.ContactStart)) == 1


@pytest.fixture
def contact(page: Client, family: UUID) -> Any:
    page.post(CONTACT, {"place": "home", "key": str(an_id("start"))})
    return visit_of(record_of(FAMILY))


def test_the_same_answer_of_several_stands_once(contact: Any, at_once: Send) -> None:
    forms = [(f"{LATCH}answer/", tap(contact, "gape", "short")) for _device in range(DEVICES)]
    assert at_once(forms) == [302] * DEVICES
    assert observed("gape") == ["short"]


def test_answers_that_differ_all_stand(contact: Any, at_once: Send) -> None:
    forms = [(f"{LATCH}answer/", tap(contact, "gape", one)) for one in ("short", "clear")]
    assert at_once(forms) == [302, 302]
    assert sorted(observed("gape")) == ["clear", "short"]


def test_as_expected_pressed_by_several_asserts_once(contact: Any, at_once: Send) -> None:
    forms = [
        (
            f"{LATCH}expected/",
            {"key": str(uuid4()), "contact": str(contact.id), "infant": INFANT}
            | {"shown": ["gape left", "gape right"]},
        )
        for _device in range(DEVICES)
    ]
    assert at_once(forms) == [302] * DEVICES
    assert observed("gape") == ["clear", "clear"]


def test_a_latch_has_no_more_photographs_than_are_read_together(
    contact: Any, at_once: Send, page: Client, tmp_path: Path, settings: SettingsWrapper
) -> None:
    settings.HOME = tmp_path
    test_photograph.consent()
    test_photograph.kept(page)
    (first,) = standing_photos(record_of(FAMILY))

    def second() -> dict[str, Any]:
        file = SimpleUploadedFile("latch.jpg", test_photograph.jpeg(), "image/jpeg")
        form = {"entry_id": str(uuid4()), "infant": INFANT, "view": "side"}
        return {**form, "first": str(first.picture.id), "photo": file}

    at_once([(test_photograph.NEW, second()) for _device in range(DEVICES)])
    kept = standing_photos(record_of(FAMILY))
    assert [one.fact.latch for one in kept] == [first.picture.id] * 2
    assert all(sealed.is_kept(FAMILY, one.picture.id) for one in kept)


def end(contact: Any, **said: str) -> tuple[str, dict[str, str]]:
    """The form of the end, as one device sends it."""
    form = {"entry_id": str(uuid4()), "contact_id": str(contact.id), "setting": "home"}
    when = f"{contact.start.true_at:%FT%T.%f}"
    return f"/families/{FAMILY}/enter/contact/", form | {"basis": "observed", "when": when} | said


def test_the_end_of_a_contact_that_several_send_is_one(contact: Any, at_once: Send) -> None:
    contacts = len(stands(domain.Contact))
    assert at_once([end(contact) for _device in range(DEVICES)]) == [302] * DEVICES
    assert len(stands(domain.Contact)) == contacts + 1
    assert visit_of(record_of(FAMILY)) is None


def test_ends_that_differ_are_one_and_whoever_was_slower_is_told(
    contact: Any, at_once: Send, page: Client
) -> None:
    contacts = len(stands(domain.Contact))
    on = [f"{contact.start.true_at + timedelta(days=days):%FT%H:%M}" for days in (1, 2, 3)]
    ends = [end(contact, next_due=each) for each in on]
    assert sorted(at_once(ends)) == [200, 200, 302]
    assert len(stands(domain.Contact)) == contacts + 1
    # What the slower ones typed stays in their form; sent again it is told again, and stored in no way.
    shown = [page.post(*one).content.decode() for one in ends]
    told = [text for text in shown if "This contact has ended already: " in text]
    assert len(told) == DEVICES - 1
    shown_as = [
        f"{contact.start.true_at + timedelta(days=days):%d/%m/%Y %H:%M}" for days in (1, 2, 3)
    ]
    assert all(any(f'value="{each}"' in text for each in shown_as) for text in told)
    assert len(stands(domain.Contact)) == contacts + 1


def test_a_contact_whose_end_was_withdrawn_can_be_ended_anew(contact: Any, page: Client) -> None:
    page.post(*end(contact))
    (ended,) = [
        one
        for one in standing(record_of(FAMILY).entries)
        if isinstance(one.fact, domain.Contact) and one.fact.contact_id == contact.id
    ]
    page.post(
        f"/families/{FAMILY}/entries/{ended.id}/withdraw/",
        {"withdrawal_id": str(uuid4()), "reason": "not over yet"},
    )
    assert visit_of(record_of(FAMILY)) is not None
    assert page.post(*end(contact, setting="phone")).status_code == 302
    assert visit_of(record_of(FAMILY)) is None


def test_milk_that_several_give_is_given_once(at_once: Send) -> None:
    milk = test_milk.put_by("fresh", 1)
    fed = len(stands(domain.Feed))
    forms = [
        (
            test_milk.MILK,
            {"key": str(uuid4()), "milk": str(milk), "to": "used", "infant": str(test_milk.SECOND)},
        )
        for _device in range(DEVICES)
    ]
    at_once(forms)
    assert len(stands(domain.MilkMoved)) == 1
    assert len(stands(domain.Feed)) == fed + 1
