"""The family's telephone number: on its page and beside a handover, in no list, trail or log; erased with the family."""

from __future__ import annotations

import logging
from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from django.test import Client

from members import a_member
from pdf_reader import see
from suffice.care import trail
from suffice.care.clinic.clinic import change_policy
from suffice.care.trail import Asked
from suffice.record.models import Entry
from web.story import FAMILY, PASSPHRASE

NUMBER, DIALLED = "+34 555 010-177", "+34555010177"
OF_FAMILY = f"/families/{FAMILY}/"


def sent(number: str = NUMBER, **more: str) -> dict[str, str]:
    return {
        "entry_id": str(uuid4()),
        "number": number,
        "when": f"{datetime.now(UTC):%Y-%m-%d %H:%M}",
        "basis": "reported",
    } | more


def kept(text: str) -> list[str]:
    """What is stored with these words in it."""
    return [one for one in map(str, Entry.objects.values_list("fact", flat=True)) if text in one]


def enter(page: Client, number: str = NUMBER, **more: str) -> None:
    assert page.post(f"{OF_FAMILY}enter/telephone/", sent(number, **more)).status_code == 302


def test_it_stands_on_the_page_of_the_family_and_beside_a_handover(
    page: Client, family: UUID
) -> None:
    for path in (OF_FAMILY, f"{OF_FAMILY}enter/handover/"):
        assert "tel:" not in page.get(path).content.decode()
    enter(page, "555 0100")
    enter(page, whose="partner", calling="after 10")
    for path in (OF_FAMILY, f"{OF_FAMILY}enter/handover/"):
        html = page.get(path).content.decode()
        assert f'<a href="tel:{DIALLED}">{NUMBER}</a>' in html
        assert "(the partner&#x27;s, after 10)" in html
        assert "tel:5550100" not in html, "the last one is in use"
    assert "tel:" not in page.get(f"{OF_FAMILY}enter/weight/").content.decode()


def test_what_is_no_number_is_refused_with_how_to_write_it(page: Client, family: UUID) -> None:
    html = page.post(f"{OF_FAMILY}enter/telephone/", sent("ask the aunt")).content.decode()
    assert "This is no telephone number." in html
    assert not kept("ask the aunt")


@pytest.mark.parametrize(
    ("written", "dials"),
    [
        ("+34 555 010\N{NON-BREAKING HYPHEN}177", DIALLED),
        ("\N{LEFT-TO-RIGHT EMBEDDING}+34 555 010 177\N{POP DIRECTIONAL FORMATTING}", DIALLED),
        ("555\N{NO-BREAK SPACE}010\N{NO-BREAK SPACE}177", "555010177"),
        ("\u0665\u0665\u0665 \u0660\u0661\u0660 \u0661\u0667\u0667", "555010177"),
        ("+34 (0) 555 010 177", DIALLED),
        ("(0) 555 010 177", "0555010177"),
    ],
)
def test_a_number_that_was_copied_or_has_other_digits_is_dialled(
    page: Client, family: UUID, written: str, dials: str
) -> None:
    enter(page, written)
    assert f'href="tel:{dials}"' in page.get(OF_FAMILY).content.decode()


def test_it_is_in_no_list_and_neither_in_the_trail_nor_in_a_log(
    page: Client, family: UUID, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    enter(page)
    for path in ("/", "/?list=mine", "/?list=due", "/?list=recent", "/?q=555"):
        html = page.get(path).content.decode()
        assert "555" not in html.replace("?q=555", "").replace('value="555"', ""), path
    assert "555" not in see(page.get("/shift/").content, language="en").text
    trail.flush()
    events = [repr(one) for one in trail.every(Asked())]
    assert events
    assert not [one for one in events if "555 010" in one or DIALLED in one]
    assert "555 010" not in caplog.text


def test_it_is_erased_with_the_family(page: Client, family: UUID, settings, tmp_path) -> None:
    settings.HOME = tmp_path
    enter(page)
    assert len(kept("555 010")) == 1
    change_policy(uuid4(), {"retention_years": 0}, now=datetime.now(UTC), actor="consultant")
    page.post(f"{OF_FAMILY}erase/", {"why": "retention"})
    ada = Client()
    ada.force_login(a_member("ada", None, passphrase=PASSPHRASE, is_administrator=True))
    ada.post("/erasures/", {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})
    assert page.get(OF_FAMILY).status_code == 404
    assert not kept("555 010")
