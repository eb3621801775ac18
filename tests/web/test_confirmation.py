"""What is said once an entry is saved: of whom, what, what follows, and how to change it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import UUID

import pytest
from django.test import Client

from suffice.care.clinic.clinic import change_policy
from web.story import FAMILY, an_id

Form = Callable[..., dict[str, str]]
WEIGH = f"/families/{FAMILY}/enter/weight/"


def ago(**span: float) -> str:
    return f"{datetime.now(UTC) - timedelta(**span):%Y-%m-%dT%H:%M}"


def said(page: Client, kind: str, sent: dict[str, str]) -> str:
    html = page.post(f"/families/{FAMILY}/enter/{kind}/", sent, follow=True).content.decode()
    found = re.search(r'<ul class="messages".*?</ul>', html, re.DOTALL)
    assert found is not None, html
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", found[0])).split())


def form(**values: str) -> dict[str, str]:
    return {
        "entry_id": str(an_id("typed")),
        "infant": str(an_id("infant 1")),
        "when": ago(minutes=1),
        "basis": "measured",
    } | values


def test_a_weight_is_said_with_its_infant_and_the_rate_since_the_last(
    page: Client, weigh: Form
) -> None:
    # The weight before, of 2950 g, lies a day and a half earlier.
    text = said(page, "weight", weigh("2995", when=ago(days=1, hours=12)))
    assert text.startswith("Saved: Weight of Ava, 2995 g, naked.")
    assert re.search(r"\+30 g/day since \w{3} \d+ \w{3}, \d\d:\d\d; 0\.2 % below", text)
    assert text.endswith("Correct")


def test_two_weights_a_few_minutes_apart_have_no_rate(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3130"))
    text = said(page, "weight", weigh("3128", entry_id=str(an_id("again")), when=ago(minutes=1)))
    assert re.search(r"\N{MINUS SIGN}2 g since", text)
    assert "g/day" not in text


def test_a_weight_that_somebody_else_entered_meanwhile_is_named(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3130", when=ago(minutes=1)))
    text = said(page, "weight", weigh("3110", entry_id=str(an_id("again")), when=ago(minutes=3)))
    assert "Another weight is on the record: 3130 g" in text.replace("\N{NO-BREAK SPACE}", " ")
    alone = said(page, "weight", weigh("3090", entry_id=str(an_id("old")), when=ago(hours=7)))
    assert "Another weight" not in alone
    twin = weigh("2650", entry_id=str(an_id("twin")), infant=str(an_id("infant 2")))
    assert "Another weight" not in said(page, "weight", twin)


def test_a_weight_below_that_of_birth_says_how_far(page: Client, weigh: Form) -> None:
    text = said(page, "weight", weigh("2610", infant=str(an_id("infant 2"))))
    assert "Saved: Weight of Ben" in text
    assert "; 13.0 % below birth weight." in text


def test_a_test_weight_says_what_was_taken_with_interval_and_share(
    page: Client, family: UUID
) -> None:
    text = said(
        page, "test-weight", form(before="3120", after="3175", same_clothes="yes", minutes="")
    )
    assert re.search(
        r"Taken at this feed: \d+ mL \(95 % interval \d+ mL to \d+ mL\), \d+ % of a feed when"
        r" the milk of a usual day is shared over 8 feeds\.",
        text,
    )


def test_a_test_weight_in_other_clothes_says_why_nothing_can_be_told(
    page: Client, family: UUID
) -> None:
    sent = form(before="3120", after="3175", same_clothes="no", minutes="")
    text = said(page, "test-weight", sent)
    assert "the clothes or the diaper were changed between the weights" in text


def test_a_fall_in_a_feed_has_no_share(page: Client, family: UUID) -> None:
    sent = form(before="3120", after="3118", same_clothes="yes", minutes="")
    text = said(page, "test-weight", sent)
    assert "Taken at this feed: \N{MINUS SIGN}2 mL" in text
    assert "of a feed" not in text


def test_a_temperature_is_said_beside_the_one_before(page: Client, family: UUID) -> None:
    first = form(temperature="36.6", site="", when=ago(hours=3))
    assert "Before:" not in said(page, "temperature", first)
    second = form(temperature="37.2", site="", entry_id=str(an_id("second")))
    assert "Before: 36.6 °C, " in said(page, "temperature", second)
    mother = form(temperature="37.0", site="", infant="parent", entry_id=str(an_id("mother")))
    text = said(page, "temperature", mother)
    assert "Saved: Temperature of Oriane Testcase, 37.0 °C." in text
    assert "Before:" not in text


def test_what_was_used_last_is_offered_next(page: Client, weigh: Form) -> None:
    page.post(WEIGH, weigh("3130", clothing="dry diaper", device="scale 2"))
    shown = page.get(WEIGH).context["form"]
    assert shown["clothing"].value() == "dry diaper"
    assert shown["device"].value() == "scale 2"
    assert shown["infant"].value() is None


def test_the_only_scale_of_the_clinic_is_offered(page: Client, family: UUID) -> None:
    scales = [{"name": "ward scale", "resolution_g": 5.0}]
    change_policy(an_id("p"), {"scales": scales}, now=datetime.now(UTC), actor="consultant")
    assert page.get(WEIGH).context["form"]["device"].value() == "ward scale"
    feed = page.get(f"/families/{FAMILY}/enter/feed/").context["form"]
    assert "device" not in feed.fields


@pytest.mark.parametrize(
    ("unit", "keypad"), [("g", "decimal"), ("kg", "decimal"), ("lb oz", "text")]
)
def test_the_keypad_is_that_of_the_clinics_unit(
    page: Client, family: UUID, unit: str, keypad: str
) -> None:
    change_policy(an_id("p"), {"weight_unit": unit}, now=datetime.now(UTC), actor="consultant")
    shown = str(page.get(WEIGH).context["form"]["weight"])
    assert f'inputmode="{keypad}"' in shown
    assert 'inputmode="tel"' in page.get("/families/new/").content.decode()


def test_the_time_stands_as_now_until_it_is_changed(page: Client, weigh: Form) -> None:
    assert page.get(WEIGH).context["form"].when_is_now
    kept = page.post(WEIGH, weigh("heavy") | {"when-now": "yes"}).context["form"]
    assert kept.when_is_now
    changed = page.post(WEIGH, weigh("heavy")).context["form"]
    assert not changed.when_is_now
    wrong = page.post(WEIGH, weigh(when="soon") | {"when-now": "yes"}).context["form"]
    assert not wrong.when_is_now


def test_what_is_folded_opens_where_it_is_wrong_or_corrected(page: Client, weigh: Form) -> None:
    shown = page.get(WEIGH).context["form"]
    assert not shown.seldom_is_open
    assert shown.seldom_words == "Measured"
    assert page.post(WEIGH, weigh(basis="guessed")).context["form"].seldom_is_open
    page.post(WEIGH, weigh("3130"))
    address = f"/families/{FAMILY}/entries/{an_id('typed')}/correct/"
    assert page.get(address).context["form"].seldom_is_open
