"""Diapers by one tap: stored once, said with the counts, taken back; a day's count in one form."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import pytest
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from web.story import FAMILY, NAME, an_id

QUICK = f"/families/{FAMILY}/quick/"
UNDO = f"/families/{FAMILY}/undo/"
DAY = f"/families/{FAMILY}/enter/day/"
SCRIPT = {"X-Kept-Form": "yes"}


def tap(what: str = "wet", **changed: str) -> dict[str, str]:
    return {"key": str(an_id("key")), "infant": str(an_id("infant 1")), "what": what} | changed


def diapers() -> list[domain.Entry]:
    return [
        one for one in record_of(FAMILY).entries if isinstance(one.fact, domain.Wet | domain.Stool)
    ]


def said(page: Client) -> str:
    """What the family's page says of what was just done."""
    html = page.get(f"/families/{FAMILY}/").content.decode()
    found = re.search(r'<ul class="messages".*?</ul>', html, re.DOTALL)
    assert found is not None
    return " ".join(re.sub(r"<[^>]+>", " ", found[0]).split())


@pytest.mark.parametrize(
    ("what", "kinds", "words"),
    [
        ("wet", [domain.Wet], "Saved: wet diaper of Ava."),
        ("stool", [domain.Stool], "Saved: stool of Ava."),
        ("both", [domain.Wet, domain.Stool], "Saved: wet diaper and stool of Ava."),
    ],
)
def test_a_tap_stores_one_of_each_now_and_says_the_counts(
    page: Client, family: UUID, what: str, kinds: list[type], words: str
) -> None:
    before = datetime.now(UTC)
    assert page.post(QUICK, tap(what))["Location"] == f"/families/{FAMILY}/"
    found = diapers()
    assert [type(one.fact) for one in found] == kinds
    for one in found:
        assert isinstance(one.fact, domain.Wet | domain.Stool)
        assert (one.fact.count, one.fact.over_h) == (1, None)
        assert one.infant_id == an_id("infant 1")
        assert before <= one.true_at <= datetime.now(UTC)
    text = said(page)
    assert words in text
    assert "Written down for the last 24 h: " in text
    assert "Undo" in text
    assert "Correct" in text


def test_the_same_button_sent_again_stores_nothing_twice(page: Client, family: UUID) -> None:
    for _time in range(3):
        assert page.post(QUICK, tap("both")).status_code == 302
    assert len(diapers()) == 2
    page.post(QUICK, tap("wet"))  # another button of the same page
    assert len(diapers()) == 3


def test_a_tap_that_waited_for_the_network_keeps_its_time(page: Client, family: UUID) -> None:
    tapped = datetime.now(UTC) - timedelta(hours=3)
    page.post(QUICK, tap(tapped=tapped.isoformat()))
    assert diapers()[0].true_at == tapped


@pytest.mark.parametrize(
    "tapped",
    [
        "yesterday",
        "2026-01-01T10:00",
        f"{datetime.now(UTC) + timedelta(hours=2):%Y-%m-%dT%H:%M:%S}Z",
        f"{datetime.now(UTC) - timedelta(days=3):%Y-%m-%dT%H:%M:%S}Z",
    ],
    ids=["a word", "no zone", "to come", "three days ago"],
)
def test_a_time_that_no_tap_can_have_is_taken_for_now(
    page: Client, family: UUID, tapped: str
) -> None:
    page.post(QUICK, tap(tapped=tapped))
    assert datetime.now(UTC) - diapers()[0].true_at < timedelta(minutes=1)


@pytest.mark.parametrize(
    "changed", [{"what": "tea"}, {"infant": "nobody"}, {"infant": ""}, {"key": "none"}]
)
def test_what_no_button_sends_is_refused(
    page: Client, family: UUID, changed: dict[str, str]
) -> None:
    assert page.post(QUICK, tap() | changed).status_code == 400
    assert page.post(UNDO, {"entry": str(an_id("weight 1 3"))}).status_code == 400
    assert diapers() == []


def test_undo_withdraws_what_was_tapped_once(page: Client, family: UUID) -> None:
    page.post(QUICK, tap("both"))
    ids = [str(one.id) for one in diapers()]
    for _time in range(2):
        assert page.post(UNDO, {"entry": ids}).status_code == 302
    assert "Undone; it stays on the record, struck through." in said(page)
    record = record_of(FAMILY)
    standing = record.entries_at(datetime.now(UTC))
    assert not [one for one in standing if isinstance(one.fact, domain.Wet | domain.Stool)]
    gone = [one for one in record.entries if isinstance(one.fact, domain.Withdrawal)]
    assert len(gone) == 2


def test_undo_is_for_ones_own_taps(page: Client, family: UUID, colleague: object) -> None:
    page.post(QUICK, tap())
    other = Client()
    other.force_login(colleague)  # type: ignore[arg-type]
    assert other.post(UNDO, {"entry": str(diapers()[0].id)}).status_code == 400


def test_a_script_is_told_where_to_go_and_what_is_said_waits_for_the_page(
    page: Client, family: UUID
) -> None:
    answer = page.post(QUICK, tap(), headers=SCRIPT)
    assert (answer.status_code, answer["X-Go"]) == (204, f"/families/{FAMILY}/")
    assert "Saved: wet diaper of Ava." in said(page)


def test_each_infant_has_its_own_buttons_with_fresh_ids(page: Client, family: UUID) -> None:
    html = page.get(f"/families/{FAMILY}/").content.decode()
    for place in (1, 2):
        assert f'name="infant" value="{an_id(f"infant {place}")}"' in html
    keys = re.findall(r'name="key" value="([^"]+)"', html)
    assert len(set(keys)) == 2
    assert not set(keys) & set(
        re.findall(r'name="key" value="([^"]+)"', page.get(f"/families/{FAMILY}/").content.decode())
    )


def day(**changed: str) -> dict[str, str]:
    return {
        "entry_id": str(an_id("day")),
        "infant": str(an_id("infant 1")),
        "wets": "6",
        "stools": "0",
        "when": f"{datetime.now(UTC):%Y-%m-%dT%H:%M}",
    } | changed


def test_a_days_count_is_two_entries_over_24_hours(page: Client, family: UUID) -> None:
    counted = day()  # sent twice, also where a minute ends between the two
    for _time in range(2):
        assert page.post(DAY, counted).status_code == 302
    found = [one.fact for one in diapers()]
    assert found == [domain.Wet(count=6, over_h=24), domain.Stool(count=0, over_h=24)]
    text = said(page)
    assert "Saved: count of the last 24 h of Ava. In 24 h: 6 wets; 0 stools." in text
    page.post(QUICK, tap())
    assert re.search(r"In 24 h: 6 wets to .+ and 1 wet since; 0 stools\.", said(page))


def test_what_nobody_counted_is_not_stored_as_none(page: Client, family: UUID) -> None:
    page.post(DAY, day(stools=""))
    assert [one.fact for one in diapers()] == [domain.Wet(count=6, over_h=24)]


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"wets": "", "stools": ""}, "wets", "FORM-008"),
        ({"wets": "-1"}, "wets", "FORM-004"),
        ({"stools": "many"}, "stools", "FORM-003"),
        ({"stools": "20"}, "stools", "Please confirm"),
        ({"infant": ""}, "infant", "FORM-001"),
        ({"when": "2031-01-01T10:00"}, "when", "TIME-0"),
        ({"when": "soon"}, "when", "CLOCK-001"),
        ({"when": "soon", "wets": "", "stools": ""}, "when", "CLOCK-001"),
    ],
)
def test_what_is_wrong_with_a_count_stands_at_its_field(
    page: Client, family: UUID, changed: dict[str, str], field: str, words: str
) -> None:
    html = page.post(DAY, day(**changed)).content.decode()
    at = html.index(f'id="id_{field}_error"')
    assert words in html[at : at + 600]
    assert diapers() == []


def test_a_doubtful_count_is_stored_when_confirmed(page: Client, family: UUID) -> None:
    html = page.post(DAY, day(wets="20")).content.decode()
    asked = re.search(r'name="(wets-meant)"\s+value="([^"]+)"', html)
    assert asked is not None
    assert page.post(DAY, day(wets="20") | {asked[1]: asked[2]}).status_code == 302
    assert len(diapers()) == 2


def test_a_days_count_of_nobody_known_is_not_found(page: Client, family: UUID) -> None:
    assert page.get(f"/families/{uuid4()}/enter/day/").status_code == 404


@pytest.mark.usefixtures("family")
def test_what_is_not_sent_yet_says_of_which_family(page: Client) -> None:
    """It is offered on every page, where the name of an infant alone says nothing."""
    shown = page.get(f"/families/{FAMILY}/").content.decode()
    assert f"Ava, {NAME}" in shown
    form = page.get(f"/families/{FAMILY}/enter/weight/").content.decode()
    assert f'data-kept="Weight · {NAME}"' in form
