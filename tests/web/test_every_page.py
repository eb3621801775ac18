"""What holds for every page: it opens, asks who you are, refuses other methods, knows no strangers."""

from __future__ import annotations

from uuid import UUID

import pytest
from django.test import Client

from web.story import FAMILY, NAME, an_id

STRANGER = "00000000-0000-4000-8000-000000000000"
ENTRY = an_id("weight 1 3")

PAGES = [
    "/",
    "/families/new/",
    f"/families/{FAMILY}/",
    f"/families/{FAMILY}/entries/",
    *(
        f"/families/{FAMILY}/enter/{kind}/"
        for kind in [
            "weight",
            "day",
            "feed",
            "test-weight",
            "wet",
            "stool",
            "expression",
            "temperature",
            "contact",
            "note",
            "size",
            "illness",
            "birth",
            "identity",
        ]
    ),
    f"/families/{FAMILY}/plan/",
    f"/families/{FAMILY}/entries/{ENTRY}/correct/",
    f"/families/{FAMILY}/entries/{ENTRY}/withdraw/",
    f"/families/{FAMILY}/papers/",
    f"/families/{FAMILY}/log/",
    f"/families/{FAMILY}/milk/",
    f"/families/{FAMILY}/export/",
    f"/families/{FAMILY}/erase/",
    "/erasures/",
    f"/families/{FAMILY}/seen/",
    "/trail/",
    "/import/",
    "/bench/",
    "/library/",
    "/library/class/",
    "/policy/",
    "/users/",
    "/users/consultant/",
    "/teams/",
    "/state/",
    "/pass-on/",
    "/emergency/",
    "/emergency/opened/",
    "/account/codes/",
    "/account/passkeys/",
    f"/families/{FAMILY}/pass-on/",
    "/account/passphrase/",
    "/account/",
    "/set-up/",
    "/help/",
]
READ_ONLY = [
    f"/families/{FAMILY}/seen/",
    "/trail/",
    "/trail/export/",
    f"/families/{FAMILY}/",
    f"/families/{FAMILY}/entries/",
    f"/families/{FAMILY}/papers/",
    f"/families/{FAMILY}/papers/letter/",
    f"/families/{FAMILY}/milk/labels/",
    "/shift/",
    f"/families/{FAMILY}/export/",
    f"/families/{FAMILY}/export/whole/",
    "/library/",
    "/library/class/",
    "/library/class/handout/",
]
UNKNOWN = [
    f"/families/{STRANGER}/seen/",
    f"/families/{STRANGER}/",
    f"/families/{STRANGER}/entries/",
    f"/families/{STRANGER}/plan/",
    f"/families/{STRANGER}/log/",
    f"/families/{STRANGER}/milk/",
    f"/families/{STRANGER}/milk/labels/",
    f"/families/{STRANGER}/enter/weight/",
    f"/families/{STRANGER}/export/",
    f"/families/{STRANGER}/export/whole/",
    f"/families/{STRANGER}/erase/",
    f"/families/{FAMILY}/enter/horoscope/",
    f"/families/{FAMILY}/entries/{STRANGER}/correct/",
    f"/families/{FAMILY}/entries/{STRANGER}/withdraw/",
    f"/import/{STRANGER}/",
    f"/import/{STRANGER}/table/",
    f"/import/{STRANGER}/family/",
    f"/import/{STRANGER}/reading/",
    "/nowhere/",
]


@pytest.mark.parametrize("address", PAGES)
def test_page_opens_with_its_landmarks_is_kept_by_nobody_and_tells_no_name_in_its_title(
    page: Client, family: UUID, address: str
) -> None:
    """Titles stay in the browser's history and can be read over a shoulder."""
    answer = page.get(address)
    assert answer.status_code == 200
    assert "no-store" in answer["Cache-Control"]
    html = answer.content.decode()
    if "/families/" in address:
        title = html.split("<title>")[1].split("</title>")[0] if "<title>" in html else ""
        assert not any(name in title for name in (*NAME.split(), "Ava", "Ben"))
    if "export" not in address:
        has_landmarks_language_and_one_heading(html)


def has_landmarks_language_and_one_heading(html: str) -> None:
    assert '<html lang="en"' in html
    assert html.count("<h1") == 1
    assert '<main id="main"' in html
    assert '<a class="skip" href="#main">' in html
    title = html.split("<title>")[1].split("</title>", maxsplit=1)[0]
    assert title.endswith("· Suffice")
    assert not title.startswith(" ·")


@pytest.mark.parametrize("address", PAGES)
def test_anonymous_is_led_to_sign_in_and_sees_nothing(family: UUID, address: str) -> None:
    answer = Client().get(address)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")
    assert "no-store" in answer["Cache-Control"]
    assert NAME not in answer.content.decode()


@pytest.mark.parametrize("address", READ_ONLY)
def test_page_that_only_shows_refuses_to_be_written_to(
    page: Client, family: UUID, address: str
) -> None:
    assert page.post(address).status_code == 405
    assert page.delete(address).status_code == 405


@pytest.mark.parametrize("address", UNKNOWN)
def test_unknown_family_entry_or_address_is_not_found(
    page: Client, family: UUID, address: str
) -> None:
    assert page.get(address).status_code == 404


@pytest.mark.parametrize(
    "address", [one for one in PAGES if one not in READ_ONLY and "weight." not in one]
)
def test_form_without_its_token_is_refused(consultant: object, family: UUID, address: str) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(consultant)  # type: ignore[arg-type]
    answer = strict.post(address, {})
    assert answer.status_code == 403
    assert "open too long" in answer.content.decode()


@pytest.mark.parametrize("address", ["/", f"/families/{FAMILY}/", "/bench/", "/policy/"])
def test_page_carries_a_policy_that_forbids_foreign_and_inline_code(
    page: Client, family: UUID, address: str
) -> None:
    answer = page.get(address)
    policy = answer["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    html = answer.content.decode()
    assert " style=" not in html
    assert "<script>" not in html
    assert "onclick" not in html
