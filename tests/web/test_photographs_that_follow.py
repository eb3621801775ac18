"""Photographs of a latch that come in another way: a second one of the same latch, one that waited on a device."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

import latches
from suffice.care.contact.photograph import keep_photograph
from suffice.care.family.asking import record_of
from suffice.care.photographs import sealed
from suffice.clinical import entry as domain
from suffice.inference.latch.reading import Photographed, read_latch
from web.story import FAMILY
from web.test_photograph import (
    INFANT,
    NEW,
    consent,
    files,
    jpeg,
    kept,
    mark,
    photographs,
    said,
    send,
)

if TYPE_CHECKING:
    from pytest_django.fixtures import SettingsWrapper


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, settings: SettingsWrapper, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.HOME = tmp_path
    monkeypatch.delenv(sealed.KEY_VARIABLE, raising=False)


@pytest.fixture
def agreed(family: UUID) -> UUID:
    return consent()


# ---- two photographs of one latch ----------------------------------------------------------------


@pytest.fixture
def contact(page: Client, agreed: UUID) -> None:
    page.post(f"/families/{FAMILY}/contact/", {"place": "home", "key": str(uuid4())})


def picture_of(place: int) -> str:
    picture = photographs()[place][1].picture
    assert picture is not None
    return str(picture.id)


def second(page: Client) -> str:
    """The address of a second photograph of the latch that was photographed and marked first."""
    mark(page, kept(page))
    answer = send(page, first=picture_of(0), side="right", infant="")
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def test_two_of_one_latch_are_read_together_and_each_alone(page: Client, contact: None) -> None:
    first = str(mark(page, kept(page))["Location"])
    shown = said(page.get(first))
    ask = f"{NEW}?first={picture_of(0)}"
    assert f'href="{ask}"' in shown
    assert "Photograph the same latch again." in shown
    asked = said(page.get(ask))
    assert "The same latch as the photograph of" in asked
    assert 'type="radio" name="side"' not in asked
    at = str(send(page, first=picture_of(0), side="right")["Location"])
    _, fact = photographs()[-1]
    assert (fact.side, str(fact.same_latch)) == ("left", picture_of(0))
    assert "Mark the other one too" in said(page.get(first))
    marked = str(mark(page, at, same=picture_of(0))["Location"])
    for one in (first, marked):
        shown = said(page.get(one))
        together, alone = shown.index("What both say together"), shown.index("this one says alone")
        assert together < alone
        assert "Photograph the same latch again" not in shown
        assert shown.count("With a protractor") == 1
    assert "the same latch as" in said(page.get(f"/families/{FAMILY}/contact/latch/"))


def test_the_joint_interval_is_that_of_the_computation(page: Client, contact: None) -> None:
    at = str(mark(page, second(page), same=picture_of(0))["Location"])
    one = Photographed(latches.marks(), "side")
    expected = read_latch([one, one], latches.PARAMETERS).opening_ratio
    alone = read_latch([one], latches.PARAMETERS).opening_ratio
    shown = said(page.get(at))
    joint = shown[shown.index("What both say together") : shown.index("this one says alone")]
    assert f"{expected.low:.2f} – {expected.high:.2f}" in joint
    assert f"{alone.low:.2f} – {alone.high:.2f}" not in joint
    assert expected.high - expected.low < alone.high - alone.low


def test_another_latch_after_all_is_read_alone_again(page: Client, contact: None) -> None:
    at = str(mark(page, second(page))["Location"])
    shown = said(page.get(at))
    assert "What both say together" not in shown
    assert f'name="same" value="{picture_of(0)}"> It shows the same latch' in shown
    again = str(mark(page, at, same=picture_of(0))["Location"])
    assert "What both say together" in said(page.get(again))
    # A picture of no photograph of theirs joins nothing.
    last = str(mark(page, again, same=str(uuid4()))["Location"])
    assert "What both say together" not in said(page.get(last))


def test_a_third_and_a_strange_one_are_refused(page: Client, contact: None, tmp_path: Path) -> None:
    second(page)
    before = len(photographs())
    shown = said(send(page, first=picture_of(0)))
    assert "cannot be added: there are two already, or the contact has ended." in shown
    assert send(page, first=str(uuid4())).status_code == 404
    assert page.get(f"{NEW}?first=here").status_code == 404
    assert len(photographs()) == before
    assert len(files(tmp_path / "photographs")) == 2


def test_a_second_press_keeps_the_second_once(page: Client, contact: None) -> None:
    kept(page)
    key = str(uuid4())
    answers = [send(page, entry_id=key, first=picture_of(0)) for _ in range(2)]
    assert {one["Location"] for one in answers} == {f"{NEW}{key}/"}
    assert len(photographs()) == 2


def test_consent_that_ends_keeps_the_joint_reading(
    page: Client, contact: None, tmp_path: Path
) -> None:
    at = str(mark(page, second(page), same=picture_of(0))["Location"])
    consent(given=False)
    assert files(tmp_path / "photographs") == []
    assert "What both say together" in said(page.get(at))


def test_outside_a_contact_no_second_one_is_offered(page: Client, agreed: UUID) -> None:
    at = str(mark(page, kept(page))["Location"])
    assert "same latch" not in said(page.get(at))


def test_a_press_that_came_twice_at_once_keeps_the_picture(agreed: UUID, tmp_path: Path) -> None:
    """Both saw a record without it: the second finds it there and leaves it alone."""
    record, key = record_of(FAMILY), uuid4()
    for second in range(2):
        keep_photograph(
            record, jpeg(), domain.LatchPhotograph(), key=key, infant_id=INFANT,
            now=datetime.now(UTC) + timedelta(seconds=second), actor="consultant",
        )  # fmt: skip
    ((_, fact),) = photographs()
    assert fact.picture is not None
    assert sealed.kept(FAMILY, fact.picture.id, fact.picture.digest)


# ---- what waited on a device ---------------------------------------------------------------------

BY_SCRIPT = {"X-Kept-Form": "yes"}


def send_late(page: Client, content: bytes | None = None, **changed: str) -> Any:
    """As a script sends what it kept."""
    file = SimpleUploadedFile("photograph", jpeg() if content is None else content)
    form = {"entry_id": str(uuid4()), "infant": str(INFANT), "side": "left", **changed}
    return page.post(NEW, {**form, "photo": file}, headers=BY_SCRIPT)


def test_one_that_waited_has_its_own_time_and_contact(page: Client, contact: None) -> None:
    visit = next(
        one.id for one in record_of(FAMILY).entries if isinstance(one.fact, domain.ContactStart)
    )
    taken = datetime.now(UTC) - timedelta(hours=3)
    answer = send_late(page, tapped=taken.isoformat(), contact=str(visit))
    assert answer.status_code == 204
    ((entry, fact),) = photographs()
    assert answer["X-Go"] == f"{NEW}{entry.id}/"
    assert abs(entry.true_at - taken) < timedelta(milliseconds=1)
    assert entry.entered_at - entry.true_at > timedelta(hours=2)
    assert fact.contact_id == visit


@pytest.mark.parametrize("days", [-2, 1])
def test_one_that_claims_another_day_is_of_now(page: Client, agreed: UUID, days: int) -> None:
    send_late(page, tapped=(datetime.now(UTC) + timedelta(days=days)).isoformat())
    ((entry, _),) = photographs()
    assert entry.true_at == entry.entered_at


def test_a_contact_of_nobody_is_none(page: Client, agreed: UUID) -> None:
    send_late(page, contact=str(uuid4()))
    ((_, fact),) = photographs()
    assert fact.contact_id is None


@pytest.mark.parametrize(
    ("content", "code"), [(b"no picture", "PHOTO-003"), (b"\0" * 21_000_000, "PHOTO-002")]
)
def test_what_is_never_taken_says_so_to_the_script(
    page: Client, agreed: UUID, content: bytes, code: str
) -> None:
    assert send_late(page, content)["X-Refused"] == code


def test_what_nobody_agrees_to_says_so_to_the_script(page: Client, family: UUID) -> None:
    answer = send_late(page)
    assert answer["X-Refused"] == "PHOTO-001"
    assert 'role="alert"' in answer.content.decode()


def test_what_the_server_may_take_later_is_no_refusal(
    page: Client, agreed: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(sealed.KEY_VARIABLE, "no key")
    assert not send_late(page).has_header("X-Refused")
