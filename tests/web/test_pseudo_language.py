"""Every page in a language that nobody speaks: no English is left but names, codes and sources."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client

from pseudo import english_in, spoken, words_of
from suffice.care.caseload.rows import refresh_stale
from suffice.care.clinic.clinic import change_policy
from suffice.care.demo.load import load_demo
from suffice.care.family.asking import record_of
from suffice.clinical.entry import Contact, Illness, Note
from suffice.record import repository
from suffice.web.family import views
from web.story import FAMILY, NAME, an_id
from web.test_every_page import PAGES, UNKNOWN
from web.test_transfer import cohort, days_ago, family_file, rows_of, upload

TYPED = (NAME, "Ava", "Ben", "Clinic of nobody", "scale 1", "wards.csv", "family.json")
FORMS = [one for one in PAGES if "/enter/" in one or one.endswith(("correct/", "withdraw/"))]
DRAWN_FROM = frozenset({"title", "text", "description", "label", "labelExpr"})


def speak() -> None:
    settings = {"clinic_name": "Clinic of nobody", "zone": "Europe/Madrid", "language": "es"}
    change_policy(uuid4(), settings, now=datetime.now(UTC), actor="consultant")


@pytest.fixture
def nobodys_language(consultant: object) -> Iterator[None]:
    """A clinic that speaks it."""
    speak()
    with spoken():
        yield


def left_on(html: str, *typed: str) -> list[str]:
    return english_in(words_of(html), (*TYPED, *typed))


def drawn_words(node: object) -> Iterator[str]:
    """The words of a drawing that the browser makes: titles, labels, texts."""
    if isinstance(node, list):
        for one in node:
            yield from drawn_words(one)
    if isinstance(node, dict):
        for key, value in node.items():
            if key in DRAWN_FROM and isinstance(value, str):
                yield value
            else:
                yield from drawn_words(value)


@pytest.mark.parametrize("address", [one for one in PAGES if "export" not in one])
def test_a_page_says_nothing_in_english(
    page: Client, family: UUID, nobodys_language: None, address: str
) -> None:
    refresh_stale(now=datetime.now(UTC), workers=1)
    answer = page.get(address).content.decode()
    if address.endswith(".json"):
        answer = "\n".join(drawn_words(json.loads(answer)))
    assert left_on(answer) == []


@pytest.mark.parametrize("address", UNKNOWN[:1])
def test_a_page_that_is_not_there_says_so_in_no_english(
    page: Client, family: UUID, nobodys_language: None, address: str
) -> None:
    assert left_on(page.get(address).content.decode()) == []


@pytest.mark.parametrize(
    "address",
    [
        *FORMS,
        "/bench/",
        "/families/new/",
        "/account/passphrase/",
        "/account/",
        "/users/",
    ],
)
def test_a_form_complains_in_no_english(
    page: Client, family: UUID, nobodys_language: None, address: str
) -> None:
    fields = page.get(address).context["form"].fields
    left = {}
    for typed in ("", "0.5", "99999", "qqzz"):
        sent = dict.fromkeys(fields, typed)
        if "infant" in sent:
            sent["infant"] = str(an_id("infant 1"))
        left[typed] = left_on(page.post(address, sent).content.decode(), "qqzz")
    assert not any(left.values()), left


def test_faults_are_told_in_no_english(
    page: Client, family: UUID, nobodys_language: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert left_on(strict.post("/bench/", {}).content.decode()) == []
    page.raise_request_exception = False
    monkeypatch.setattr(views, "family_page", lambda *_: 1 / 0)
    answer = page.get(f"/families/{FAMILY}/")
    assert answer.status_code == 500
    assert left_on(answer.content.decode()) == []


def test_signing_in_is_asked_for_in_no_english(family: UUID, nobodys_language: None) -> None:
    stranger = Client()
    assert left_on(stranger.get("/sign-in/").content.decode()) == []
    wrong = {"username": "qqzz", "password": "qqzz"}
    assert left_on(stranger.post("/sign-in/", wrong).content.decode(), "qqzz") == []


def test_a_family_file_is_shown_in_no_english(page: Client, nobodys_language: None) -> None:
    address = upload(page, "family.json", family_file())
    assert left_on(page.get(address).content.decode()) == []


def test_a_table_is_shown_in_no_english(page: Client, nobodys_language: None) -> None:
    table = cohort(*rows_of(2), f"x,male,{days_ago(3)},06:00,{days_ago(1)},06:00,abc")
    address = upload(page, "wards.csv", table)
    html = page.get(address).content.decode()
    columns = ("infant", "sex", "birth date", "birth time", "date", "time", "weight g")
    inches = ", in"  # the sign of the unit
    assert left_on(html, *columns, inches, "male", "female", "abc", "wards") == []


@pytest.mark.slow
def test_every_family_of_the_demo_reads_in_no_english(page: Client, nobodys_language: None) -> None:
    now = datetime.now(UTC)
    load_demo(now=now, actor="consultant")
    speak()
    refresh_stale(now=now, workers=1)
    left: dict[str, list[str]] = {}
    for family_id in repository.family_ids():
        record = record_of(family_id)
        typed = ["Europe/Madrid", *(one.device or "" for one in record.entries)]
        for fact in (one.fact for one in record.entries):
            parts = (getattr(fact, part, None) for part in ("name", "asked", "found"))
            # A link to a long line ends somewhere in what was typed.
            typed += [part[:end] for part in parts if part for end in range(2, len(part) + 1)]
            if isinstance(fact, Illness | Note | Contact):
                text = getattr(fact, "what", "") or getattr(fact, "text", "")
                typed += [text, text[:39].rstrip()]  # a link to a long note names its beginning
        for path in ("", "entries/"):
            html = page.get(f"/families/{family_id}/{path}").content.decode()
            if found := left_on(html, *typed):
                left[f"{family_id}/{path}"] = found
    assert left == {}


def test_a_planted_word_is_found(
    page: Client, family: UUID, nobodys_language: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert english_in("ẁòŕḋ and plain 3 kg") == ["and plain <- ẁòŕḋ and plain 3 kg"]
    html = page.get("/bench/").content.decode()
    planted = html.replace("<main", '<main aria-label="weights"', 1).replace(
        "</main>", "<p>Lost in translation</p></main>", 1
    )
    assert left_on(planted) == ["weights <- weights", "Lost in translation <- Lost in translation"]
