"""The pages of erasing: one person asks on the family's page, another confirms in a list without names."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.test import Client

from lifted import triggers_lifted
from members import a_member
from suffice.care.clinic.clinic import change_policy
from suffice.record import erasure
from web.story import FAMILY, NAME, PASSPHRASE

ASK, LIST = f"/families/{FAMILY}/erase/", "/erasures/"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> None:
    settings.HOME = tmp_path


def keep_for(years: int | None) -> None:
    change_policy(uuid4(), {"retention_years": years}, now=datetime.now(UTC), actor="consultant")


def signed_in(name: str, role: str | None, **duties: bool) -> Client:
    client = Client()
    client.force_login(a_member(name, role, passphrase=PASSPHRASE, **duties))
    return client


def test_nothing_is_offered_before_the_clinic_has_a_period(page: Client, family: UUID) -> None:
    assert "Erase this family" not in page.get(f"/families/{FAMILY}/").content.decode()
    html = page.get(ASK).content.decode()
    assert "no family can be erased" in html
    assert 'name="why"' not in html
    assert "ERASE-002" in page.post(ASK, {"why": "retention"}).content.decode()


def test_before_the_end_of_the_period_the_page_says_when(page: Client, family: UUID) -> None:
    keep_for(10)
    assert "Erase this family" in page.get(f"/families/{FAMILY}/").content.decode()
    html = page.get(ASK).content.decode()
    assert str(datetime.now(UTC).year + 10) in html
    assert 'name="why"' not in html
    assert "ERASE-001" in page.post(ASK, {"why": "retention"}).content.decode()
    assert erasure.requests() == ()


def test_one_asks_and_an_administrator_who_sees_no_family_confirms(
    page: Client, family: UUID
) -> None:
    keep_for(0)
    assert page.post(ASK, {"why": "retention"})["Location"] == ASK
    own = page.get(LIST).content.decode()
    assert "somebody else confirms it" in own
    assert 'value="erase"' not in own
    assert (
        page.post(LIST, {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})["Location"]
        == LIST
    )
    assert "RECORD-016" in page.get(LIST).content.decode()
    ada = signed_in("ada", None, is_administrator=True)
    html = ada.get(LIST).content.decode()
    assert str(FAMILY) in html
    assert NAME not in html
    assert f"/families/{FAMILY}/" not in html
    ada.post(LIST, {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})
    html = ada.get(LIST).content.decode()
    assert "consultant asked, ada confirmed" in html
    assert "Can still be read in backups" not in html, "no backup was ever made"
    assert page.get(f"/families/{FAMILY}/").status_code == 404
    caseload = page.get("/").content.decode()
    assert NAME not in caseload
    assert f'<meta name="erased" content="{FAMILY}">' in caseload


def test_a_request_can_be_refused_and_taken_back(page: Client, family: UUID) -> None:
    keep_for(0)
    lou = signed_in("lou", "lead")
    for client in (lou, page):
        page.post(ASK, {"why": "asked"})
        client.post(LIST, {"family": FAMILY, "do": "refuse"})
        assert erasure.requests() == ()
    lou.post(LIST, {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})
    assert "ERASE-004" in lou.get(LIST).content.decode()
    assert page.get(f"/families/{FAMILY}/").status_code == 200


def test_nonsense_is_refused(page: Client, family: UUID) -> None:
    keep_for(0)
    assert (
        page.post(LIST, {"family": "x", "do": "erase", "passphrase": PASSPHRASE}).status_code == 302
    )
    assert page.post(ASK, {"why": "because"}).status_code == 200
    assert erasure.requests() == ()


def test_all_of_a_family_is_one_file(page: Client, family: UUID) -> None:
    answer = page.get(f"/families/{FAMILY}/export/whole/")
    assert answer["Content-Type"] == "application/zip"
    assert NAME not in answer["Content-Disposition"]
    assert answer.content.startswith(b"PK")


def test_the_policy_takes_a_period_and_none(page: Client) -> None:
    html = page.get("/policy/").content.decode()
    assert "retention_years" in html
    assert "Local law decides" in html


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("garbled", "code"),
    [
        ("UPDATE record_entry SET entered_at = 'yesterday'", "RECORD-010"),
        ("UPDATE record_entry SET true_at = 'yesterday'", "RECORD-010"),
        ("UPDATE record_entry SET fact = '{\"kind\": 7}'", "RECORD-010"),
        ("UPDATE record_erasurerequest SET why = 'of its own'", ""),
        ("ALTER TABLE record_standing RENAME TO gone", "RECORD-009"),
    ],
)
def test_on_damaged_tables_nothing_is_erased_and_it_is_said_in_words(
    page: Client, family: UUID, garbled: str, code: str
) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL takes no time that is none")
    keep_for(0)
    page.post(ASK, {"why": "retention"})
    ada = signed_in("ada", None, is_administrator=True)
    with triggers_lifted(), connection.cursor() as cursor:
        cursor.execute(garbled)
        answer = (
            ada.post(LIST, {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})
            if code
            else ada.get(LIST)
        )
        if "RENAME" in garbled:
            cursor.execute("ALTER TABLE gone RENAME TO record_standing")
    assert answer.status_code == (503 if code else 200)
    assert (code or "of its own") in answer.content.decode()
    assert "yesterday" not in answer.content.decode()
    assert erasure.request_of(FAMILY) is not None
