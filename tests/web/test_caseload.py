"""The caseload page: order, reasons, filter, paging, and a fixed number of queries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

import msgspec
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from suffice.care.family.recording import open_family
from suffice.clinical import entry as domain
from web.story import FAMILY, NAME


def open_more(count: int) -> None:
    now = datetime.now(UTC)
    for number in range(count):
        family = uuid5(FAMILY, f"more {number}")
        infant = domain.Infant(id=uuid5(family, "infant"), position=1)
        entries = tuple(
            msgspec.structs.replace(one, id=uuid5(family, name), infant_id=infant_id)
            for name, infant_id, one in (
                ("parent", None, _entry(domain.Identity(name=f"Parent {number}"), now)),
                ("contact", None, _entry(domain.Contact(setting=domain.Setting.WARD), now)),
                ("birth", infant.id, _entry(domain.Birth(zone="UTC"), now - timedelta(hours=30))),
            )
        )
        record = domain.Record(family_id=family, infants=(infant,), entries=entries)
        open_family(record, now=now, actor="consultant", confirmed=True)


def _entry(fact: domain.AnyFact, at: datetime) -> domain.Entry:
    return domain.Entry(
        id=FAMILY,
        fact=fact,
        basis=domain.Basis.REPORTED,
        true_at=at,
        entered_at=datetime.now(UTC) - timedelta(minutes=1),
        entered_by="consultant",
    )


def test_family_with_a_red_value_stands_first_with_its_reason(page: Client, family: UUID) -> None:
    open_more(2)
    html = page.get("/").content.decode()
    first = html.split('<ol class="caseload">')[1].split("</li>")[0]
    assert NAME in first
    assert "Today" in first
    assert "12.0 %" in first
    assert "Ben" in first


def test_row_shows_age_last_weight_and_setting(page: Client, family: UUID) -> None:
    html = page.get("/").content.decode()
    assert "10 days" in html
    assert "3100\u00a0g" in html
    assert "Home" in html


@pytest.mark.parametrize(
    ("asked", "is_there"),
    [
        ("q=oriane", True),
        ("q=ben", True),
        ("q=nobody", False),
        ("setting=home", True),
        ("setting=ward", False),
        ("tier=today", True),
        ("tier=settled", False),
        ("tier=nonsense", True),
        ("page=9", True),
        ("page=minus", True),
    ],
)
def test_filter_keeps_what_was_asked_for(
    page: Client, family: UUID, asked: str, is_there: bool
) -> None:
    assert (NAME in page.get(f"/?{asked}").content.decode()) is is_there


def test_htmx_gets_the_list_alone(page: Client, family: UUID) -> None:
    html = page.get("/?q=oriane", headers={"HX-Request": "true"}).content.decode()
    assert NAME in html
    assert "<html" not in html
    assert '<p id="found" hx-swap-oob="innerHTML">1 family' in html


def test_what_was_looked_for_is_shown_as_text(page: Client, family: UUID) -> None:
    html = page.get("/", {"q": '"><script>alert(1)</script>'}).content.decode()
    assert "<script>alert" not in html


def test_more_than_one_page_is_paged(page: Client, family: UUID) -> None:
    open_more(55)
    first = page.get("/").content.decode()
    second = page.get("/?page=2").content.decode()
    assert "Page 1 of 2" in first
    assert "Page 2 of 2" in second
    assert first.count("/families/") - second.count("/families/") > 40


def test_number_of_queries_does_not_grow_with_the_caseload(page: Client, family: UUID) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            page.get("/")
        return len(seen)

    page.get("/")
    few = queries()
    open_more(30)
    assert queries() == few <= 6


def test_empty_caseload_says_what_to_do(page: Client) -> None:
    html = page.get("/").content.decode()
    assert "No family is on the list yet" in html
    assert "/families/new/" in html


def test_discharged_family_is_listed_when_asked_for(page: Client, family: UUID) -> None:
    sent = {
        "entry_id": str(uuid5(FAMILY, "discharge")),
        "setting": "home",
        "discharged": "on",
        "next_due": "",
        "when": f"{datetime.now(UTC) - timedelta(minutes=1):%Y-%m-%dT%H:%M}",
        "basis": "observed",
    }
    assert page.post(f"/families/{FAMILY}/enter/contact/", sent).status_code == 302
    assert NAME not in page.get("/").content.decode()
    assert NAME in page.get("/?discharged=1").content.decode()
