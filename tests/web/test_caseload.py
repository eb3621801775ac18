"""The caseload page: order, reasons, filter, paging, and a fixed number of queries."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

import msgspec
import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.db import DatabaseError, connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from suffice.care.family.recording import open_family
from suffice.clinical import entry as domain
from web.story import FAMILY, NAME

if TYPE_CHECKING:
    from django.contrib.auth.models import User

pytestmark = pytest.mark.both_engines


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
    first = html.split('<tr class="family">')[1].split("</tr>")[0]
    assert NAME in first
    assert "Today" in first
    assert "12.0\u00a0%" in first
    assert "Ben" in first


def test_a_row_that_is_found_by_name_says_whose_name_it_may_be(page: Client, family: UUID) -> None:
    """An infant alone has no name on the list: the family's is enough."""
    open_more(1)
    last = {}
    for found in ("", "parent 0"):
        html = page.post("/", {"q": found}).content.decode()
        row = next(one for one in html.split('<tr class="family">')[1:] if "Parent 0" in one)
        last[found] = row.split('<td class="last">')[1].split("</td>")[0]
    assert "Infant 1" in last["parent 0"]
    assert "Infant 1" not in last[""]


def test_row_shows_age_last_weight_and_setting(page: Client, family: UUID) -> None:
    html = page.get("/").content.decode()
    assert "10 days" in html
    assert "3100\u00a0g" in html
    assert "Home" in html


@pytest.mark.parametrize(
    ("asked", "is_there"),
    [
        ("setting=home", True),
        ("setting=ward", False),
        ("tier=today", True),
        ("tier=settled", False),
        ("tier=nonsense", True),
        ("list=mine", True),
        ("list=due", False),
        ("list=recent", True),
        ("list=nonsense&sort=latest", True),
        ("sort=name", True),
        ("sort=\u00b2", True),
        ("page=9", True),
        ("page=\u00b2", True),
        ("page=minus", True),
        ("whole=1", True),
        ("q=nobody", True),
    ],
)
def test_filter_keeps_what_was_asked_for(
    page: Client, family: UUID, asked: str, is_there: bool
) -> None:
    assert (NAME in page.get(f"/?{asked}").content.decode()) is is_there


@pytest.mark.parametrize(
    ("typed", "is_there"),
    [("ori", True), ("BEN", True), ("tést ORÍ", True), ("nobody", False), (" ", True)],
)
def test_a_name_is_found_by_some_letters_whatever_else_is_asked(
    page: Client, family: UUID, typed: str, is_there: bool
) -> None:
    html = page.post("/?setting=ward" if typed.strip() else "/", {"q": typed}).content.decode()
    assert (NAME in html) is is_there


def test_htmx_gets_the_list_alone(page: Client, family: UUID) -> None:
    html = page.post("/", {"q": "oriane"}, headers={"HX-Request": "true"}).content.decode()
    assert NAME in html
    assert "<html" not in html
    assert '<p id="found" hx-swap-oob="innerHTML">1 family' in html
    assert "hx-get" not in html  # it is not renewed as the whole list


def test_a_name_stands_in_no_address_and_in_no_session(page: Client, family: UUID) -> None:
    page.get("/?list=mine&sort=name")
    html = page.post("/?list=mine&sort=name", {"q": "oriane"}).content.decode()
    addresses = re.findall(r'(?:href|action|hx-get|hx-post)="([^"]*)"', html)
    assert addresses
    assert not [one for one in addresses if "oriane" in one.lower()]
    assert "oriane" not in json.dumps(dict(page.session)).lower()


def test_mine_are_the_families_that_i_entered_something_for(
    page: Client, family: UUID, colleague: User
) -> None:
    other = Client()
    other.force_login(colleague)
    assert NAME in page.get("/?list=mine").content.decode()
    assert "You have entered nothing" in other.get("/?list=mine").content.decode()


def test_recent_are_those_i_opened_the_latest_first_until_i_sign_out(
    family: UUID, colleague: User
) -> None:
    open_more(2)
    mine = Client()
    mine.force_login(colleague)
    assert "You have opened no family" in mine.get("/?list=recent").content.decode()
    for one in (FAMILY, uuid5(FAMILY, "more 1"), uuid5(FAMILY, "more 0")):
        mine.get(f"/families/{one}/")
    mine.get(f"/families/{uuid5(FAMILY, 'nobody')}/")
    assert names_in(mine.get("/?list=recent")) == ["Parent 0", "Parent 1", NAME]
    mine.post("/sign-out/")
    mine.force_login(colleague)
    assert names_in(mine.get("/?list=recent")) == []


def names_in(answer: HttpResponse) -> list[str]:
    return re.findall(r'<th scope="row" class="name">\s*<a [^>]*>([^<]*)', answer.content.decode())


def test_next_goes_through_the_list_last_shown_and_back_to_it(page: Client, family: UUID) -> None:
    open_more(3)
    page.get("/?sort=name")
    at, seen = uuid5(FAMILY, "more 0"), []
    first = FAMILY  # O before P
    answer = page.get(f"/families/{first}/next/")
    while answer["Location"].startswith("/families/"):
        at = UUID(answer["Location"].split("/")[2])
        seen.append(at)
        answer = page.get(f"/families/{at}/next/")
    assert seen == [uuid5(FAMILY, f"more {n}") for n in range(3)]
    assert answer["Location"] == "/?sort=name"
    assert "That was the last family" in page.get(answer["Location"]).content.decode()


def test_the_last_family_of_the_list_leads_back_and_says_so(page: Client, family: UUID) -> None:
    def shown(family_id: UUID) -> str:
        return page.get(f"/families/{family_id}/").content.decode()

    assert "Next family" in shown(FAMILY)  # no list was shown yet
    page.get("/")
    assert "Back to the list" in shown(FAMILY)
    assert "Next family" not in shown(FAMILY)
    open_more(1)
    page.get("/?sort=name")
    assert "Next family" in shown(FAMILY)
    assert "Back to the list" in shown(uuid5(FAMILY, "more 0"))


def test_next_keeps_to_the_order_that_was_seen_though_ranks_change(
    page: Client, family: UUID
) -> None:
    """After an entry a family moves down the list; whoever came after it is not passed over."""
    open_more(3)
    order = [
        UUID(one) for one in re.findall("/families/([^/]{36})/", page.get("/").content.decode())
    ]
    assert order[0] == FAMILY
    sent = {
        "entry_id": str(uuid5(FAMILY, "left")),
        "setting": "home",
        "discharged": "on",
        "next_due": "",
        "when": f"{datetime.now(UTC) - timedelta(minutes=1):%Y-%m-%dT%H:%M}",
        "basis": "observed",
    }
    page.post(f"/families/{FAMILY}/enter/contact/", sent)
    assert page.get(f"/families/{FAMILY}/next/")["Location"] == f"/families/{order[1]}/"


def test_next_without_a_list_follows_the_need(page: Client, family: UUID) -> None:
    open_more(1)
    assert (
        page.get(f"/families/{FAMILY}/next/")["Location"] == f"/families/{uuid5(FAMILY, 'more 0')}/"
    )


def test_a_list_that_cannot_be_kept_is_shown_all_the_same(
    page: Client, family: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: SessionStore) -> None:
        raise DatabaseError("locked")

    monkeypatch.setattr(SessionStore, "save", refuse)
    assert NAME in page.get("/").content.decode()
    assert page.get(f"/families/{FAMILY}/").status_code == 200


def test_times_of_the_list_have_the_exact_instant_behind_them(page: Client, family: UUID) -> None:
    html = page.get("/").content.decode()
    times = re.findall(r'<time\s+datetime="([^"]+)"\s+title="([^"]+)"><span[^>]*>([^<]+)', html)
    assert times
    for iso, exact, words in times:
        at = datetime.fromisoformat(iso)
        assert f"{at:%H:%M}" in exact
        assert f"{at:%Y}" in exact
        assert words


def test_what_was_looked_for_is_shown_as_text(page: Client, family: UUID) -> None:
    html = page.post("/", {"q": '"><script>alert(1)</script>'}).content.decode()
    assert "<script>alert" not in html


def test_more_than_one_page_is_paged(page: Client, family: UUID) -> None:
    open_more(55)
    first = page.get("/").content.decode()
    second = page.get("/?page=2").content.decode()
    assert "Page 1 of 2" in first
    assert "Page 2 of 2" in second
    assert first.count("/families/") - second.count("/families/") > 40
    whole = page.get("/?whole=1").content.decode()
    assert whole.count('<tr class="family">') == 56


def test_number_of_queries_does_not_grow_with_the_caseload(page: Client, family: UUID) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            page.get("/")
        return len(seen)

    page.get("/")  # keeps the list for the way from one family to the next
    few = queries()
    open_more(30)
    page.get("/")
    assert queries() == few <= 10


def test_empty_caseload_says_what_to_do(page: Client) -> None:
    html = page.get("/").content.decode()
    assert "No family is on the list yet" in html
    for path in ("/set-up/", "/families/new/", "/import/", "/help/"):
        assert f'href="{path}"' in html.split("<main")[1]


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
    page.get("/")  # says what was saved
    assert NAME not in page.get("/").content.decode()
    assert NAME in page.get("/?discharged=1").content.decode()
