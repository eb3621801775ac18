"""Entering, correcting and withdrawing: read as people write it, asked when in doubt, stored once."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id

WEIGH = f"/families/{FAMILY}/enter/weight/"
Form = Callable[..., dict[str, str]]


def stored() -> list[domain.Entry]:
    return [one for one in record_of(FAMILY).entries if one.id == an_id("typed")]


def minutes_ago(minutes: int) -> str:
    return f"{datetime.now(UTC) - timedelta(minutes=minutes):%Y-%m-%dT%H:%M}"


def test_weight_is_stored_and_shown_on_the_family_page(page: Client, weigh: Form) -> None:
    answer = page.post(WEIGH, weigh("3150"), follow=True)
    assert answer.redirect_chain[-1][0] == f"/families/{FAMILY}/"
    assert "Saved: Weight of Ava, 3150\u00a0g, naked." in answer.content.decode()
    (one,) = stored()
    assert one.fact == domain.Weight(weight_g=3150, clothing="naked")
    assert (one.entered_by, one.basis, one.device) == ("consultant", "measured", "scale 1")
    assert one.infant_id == an_id("infant 1")


@pytest.mark.parametrize(
    ("written", "weight_g"),
    [("3150", 3150), ("3.15 kg", 3150), ("3,15 kg", 3150), ("6 lb 15 oz", 3146.79706453125)],
)
def test_weight_is_taken_as_people_write_it(
    page: Client, weigh: Form, written: str, weight_g: float
) -> None:
    assert page.post(WEIGH, weigh(written)).status_code == 302
    (one,) = stored()
    assert isinstance(one.fact, domain.Weight)
    assert one.fact.weight_g == pytest.approx(weight_g, abs=0.01)


def test_same_form_sent_twice_is_stored_once(page: Client, weigh: Form) -> None:
    sent = weigh("3150")
    assert page.post(WEIGH, sent).status_code == 302
    assert page.post(WEIGH, sent).status_code == 302
    assert len(stored()) == 1


def test_same_id_with_another_value_is_refused_in_words(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3150"))
    html = page.post(WEIGH, weigh("3160")).content.decode()
    assert "RECORD-002" in html
    assert len(stored()) == 1


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"weight": "heavy"}, "id_weight_error", "READ-001"),
        ({"weight": ""}, "id_weight_error", "Nothing is written here"),
        ({"weight": "32500"}, "id_weight_error", "READ-002"),
        ({"when": "yesterday"}, "id_when_error", "CLOCK-001"),
        ({"when": "2031-01-01T10:00"}, "id_when_error", "TIME-0"),
        ({"infant": "nobody"}, "id_infant_error", "is not among the choices"),
        ({"basis": "guessed"}, "id_basis_error", "is not among the choices"),
    ],
)
def test_wrong_value_is_told_at_its_field_and_nothing_is_lost(
    page: Client, weigh: Form, changed: dict[str, str], field: str, words: str
) -> None:
    answer = page.post(WEIGH, weigh(**({"weight": "3150"} | changed)))
    html = answer.content.decode()
    assert answer.status_code == 200
    at = html.index(f'id="{field}"')
    assert words in html[at : at + 700]
    assert 'value="scale 1"' in html
    assert f'value="{an_id("typed")}"' in html
    assert stored() == []


def token_of(html: str, name: str) -> str:
    """The first answer that a page offers to a question."""
    found = re.search(rf'name="{re.escape(name)}"\s+value="([^"]*)"', html)
    assert found is not None
    return found[1]


def test_doubtful_value_is_asked_about_and_stored_when_confirmed(page: Client, weigh: Form) -> None:
    html = page.post(WEIGH, weigh("4100")).content.decode()
    assert "Please confirm" in html
    assert 'value="4100"' in html
    assert stored() == []
    sent = weigh("4100") | {"weight-meant": token_of(html, "weight-meant")}
    assert page.post(WEIGH, sent).status_code == 302
    assert len(stored()) == 1


def test_answer_to_one_doubt_does_not_confirm_another_value(page: Client, weigh: Form) -> None:
    html = page.post(WEIGH, weigh("4100")).content.decode()
    answer = {"weight-meant": token_of(html, "weight-meant")}
    again = page.post(WEIGH, weigh("4400") | answer)
    assert again.status_code == 200
    assert "Please confirm" in again.content.decode()
    assert stored() == []


def test_reading_with_two_meanings_is_stored_as_the_one_chosen(page: Client, weigh: Form) -> None:
    html = page.post(WEIGH, weigh("3.150")).content.decode()
    assert "Please confirm" in html
    sent = weigh("3.150") | {"weight-meant": token_of(html, "weight-meant")}
    assert page.post(WEIGH, sent).status_code == 302
    (one,) = stored()
    assert isinstance(one.fact, domain.Weight)
    assert one.fact.weight_g == 3150


def test_scale_is_offered_again_and_save_and_another_stays(page: Client, weigh: Form) -> None:
    answer = page.post(WEIGH, weigh("3150", device="kitchen scale") | {"again": "1"})
    assert answer["Location"] == WEIGH
    html = page.get(WEIGH).content.decode()
    assert 'name="device" value="kitchen scale"' in html
    assert '<option value="scale 1">' in html


SENT: dict[str, dict[str, str]] = {
    "feed": {"milk": "expressed", "volume": "45", "side": "", "minutes": "20"},
    "test-weight": {"before": "3150", "after": "3205", "minutes": "25", "same_clothes": "yes"},
    "wet": {"count": "6", "over_h": "24", "urates": "yes"},
    "stool": {"count": "1", "over_h": "", "colour": "yellow", "amount": "large"},
    "expression": {"left": "30", "right": "0", "method": "pump", "hours_since_last": "3"},
    "temperature": {"temperature": "98.2F", "site": "axilla"},
    "illness": {"what": "jaundice under phototherapy", "present": "yes"},
    "contact": {"setting": "phone", "next_due": ""},
    "note": {"text": "Parent is tired; partner helps at night."},
    "size": {"length": "50.5", "head": ""},
    "identity": {"name": "Ava Testcase"},
}


@pytest.mark.parametrize("kind", SENT)
def test_entry_of_every_kind_is_stored_and_can_be_corrected(
    page: Client, family: UUID, kind: str
) -> None:
    sent = SENT[kind] | {
        "entry_id": str(an_id("typed")),
        "infant": str(an_id("infant 1")),
        "when": minutes_ago(5),
        "basis": "reported",
    }
    answer = page.post(f"/families/{FAMILY}/enter/{kind}/", sent)
    assert answer.status_code == 302, answer.content.decode()
    (one,) = stored()
    html = page.get(f"/families/{FAMILY}/entries/{one.id}/correct/").content.decode()
    again = page.post(
        f"/families/{FAMILY}/entries/{one.id}/correct/", sent | {"entry_id": str(an_id("new"))}
    )
    assert again.status_code == 302, again.content.decode()
    new = next(entry for entry in record_of(FAMILY).entries if entry.id == an_id("new"))
    assert (new.replaces, new.fact, new.infant_id) == (one.id, one.fact, one.infant_id)
    for name in ("volume", "before", "minutes", "length"):
        if name in SENT[kind]:
            written = html.split(f'name="{name}" value="')[1].split('"')[0]
            assert written.split()[0] == SENT[kind][name]
    for name in ("text", "what", "name"):
        assert SENT[kind].get(name, "") in html


@pytest.mark.parametrize("kind", [*SENT, "weight", "feed-count", "bilirubin", "sign", "known"])
def test_a_form_opens_with_nothing_that_nobody_typed(page: Client, family: UUID, kind: str) -> None:
    """What a form holds when it opens is kept as typed by the device, and offered as not sent."""
    html = page.get(f"/families/{FAMILY}/enter/{kind}/").content.decode()
    typed = re.findall(r'<input type="(?:text|number)" name="(\w+)" value="([^"]+)"', html)
    # One diaper is one tap; when it was is the time of opening, and the page knows it as its own.
    assert [one for one in typed if one != ("count", "1") and one[0] != "when"] == []


def test_correction_keeps_what_it_did_not_touch_to_the_gram(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("6 lb 15 oz"))
    (one,) = stored()
    html = page.get(f"/families/{FAMILY}/entries/{one.id}/correct/").content.decode()
    written = html.split('name="weight" value="')[1].split('"')[0]
    sent = weigh(written, clothing="clothed") | {"entry_id": str(an_id("new"))}
    assert page.post(f"/families/{FAMILY}/entries/{one.id}/correct/", sent).status_code == 302
    new = next(entry for entry in record_of(FAMILY).entries if entry.id == an_id("new"))
    assert isinstance(one.fact, domain.Weight)
    assert isinstance(new.fact, domain.Weight)
    assert new.fact.weight_g == one.fact.weight_g


def test_corrected_entry_stays_on_the_time_line_struck_through(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3150"))
    sent = weigh("3140") | {"entry_id": str(an_id("new"))}
    page.post(f"/families/{FAMILY}/entries/{an_id('typed')}/correct/", sent)
    html = page.get(f"/families/{FAMILY}/").content.decode()
    old = re.split(r'<li[^>]*class="[^"]*superseded[^"]*"[^>]*>', html)[1].split("</li>")[0]
    assert "3150" in old
    assert "Corrected by consultant" in old
    assert "/correct/" not in old
    assert page.get(f"/families/{FAMILY}/entries/{an_id('typed')}/correct/").status_code == 404


def test_withdrawn_entry_stays_with_its_reason(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3150"))
    address = f"/families/{FAMILY}/entries/{an_id('typed')}/withdraw/"
    empty = page.post(address, {"withdrawal_id": str(an_id("out")), "reason": "  "})
    assert "Nothing is written here" in empty.content.decode()
    sent = {"withdrawal_id": str(an_id("out")), "reason": "entered for the wrong infant"}
    assert page.post(address, sent).status_code == 302
    assert page.post(address, sent).status_code == 302
    html = page.get(f"/families/{FAMILY}/").content.decode()
    assert "Withdrawn by consultant" in html
    assert "entered for the wrong infant" in html


def test_hour_that_the_clock_showed_twice_is_asked_about(
    page: Client, madrid: None, weigh: Form
) -> None:
    html = page.post(WEIGH, weigh(when="2026-10-25T02:30")).content.decode()
    assert "25 Oct 2026, 02:30 came twice" in html
    assert "02:30 CEST (UTC+0200)" in html
    assert "02:30 CET (UTC+0100)" in html


def test_hour_that_the_clock_skipped_is_refused(page: Client, madrid: None, weigh: Form) -> None:
    html = page.post(WEIGH, weigh(when="2026-03-29T02:30")).content.decode()
    assert "CLOCK-002" in html


def test_the_time_that_is_offered_is_now_to_the_minute(page: Client, family: UUID) -> None:
    """Nobody has seconds before them when they enter, and none are to be read past."""
    html = page.get(WEIGH).content.decode()
    offered = re.search(r'name="when" value="([^"]+)"', html)
    assert offered is not None
    assert re.fullmatch(r"\d\d/\d\d/\d{4} \d\d:\d\d", offered[1])


@pytest.mark.parametrize(
    ("kind", "is_offered"),
    [("weight", True), ("feed", True), ("sign", True), ("contact", False), ("plan", False)],
)
def test_another_one_is_offered_only_where_two_in_a_row_make_sense(
    page: Client, family: UUID, kind: str, is_offered: bool
) -> None:
    html = page.get(f"/families/{family}/enter/{kind}/").content.decode()
    assert ("Save and enter another" in html) is is_offered
    assert 'type="submit">Save<' in html


def test_whoever_ends_a_contact_is_never_led_to_enter_another(page: Client, family: UUID) -> None:
    end = {
        "entry_id": str(an_id("end")),
        "setting": "home",
        "basis": "observed",
        "when": f"{datetime.now(UTC):%Y-%m-%dT%H:%M}",
        "again": "1",
    }
    answer = page.post(f"/families/{family}/enter/contact/", end)
    assert answer.status_code == 302
    assert "/enter/contact/" not in answer["Location"]
