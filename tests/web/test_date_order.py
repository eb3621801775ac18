"""Forms take the clinic's order of dates and no other; an unchanged policy is no new version."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from suffice.care.clinic.clinic import change_policy, policy_history
from suffice.record.repository import read
from web.story import FAMILY, an_id

WEIGH = f"/families/{FAMILY}/enter/weight/"
PAGE = f"/families/{FAMILY}/"
Form = Callable[..., dict[str, str]]
NUMBERS = {
    "day first": "%d/%m/%Y %H:%M",
    "month first": "%m/%d/%Y %H:%M",
    "year first": "%Y-%m-%d %H:%M",
}


def use(order: str, number: int = 1, *, zone: str = "Europe/Madrid") -> None:
    settings = {"clinic_name": "Test clinic", "zone": zone, "date_order": order}
    change_policy(an_id(f"policy {number}"), settings, now=datetime.now(UTC), actor="consultant")


def weights() -> list[datetime]:
    typed = an_id("typed")
    return [one.true_at for one in read(FAMILY).entries if one.id == typed]


@pytest.mark.parametrize("order", NUMBERS)
def test_a_time_is_taken_in_the_clinics_order(
    page: Client, family: UUID, weigh: Form, order: str
) -> None:
    use(order)
    at = (datetime.now(UTC) - timedelta(minutes=5)).replace(second=0, microsecond=0)
    local = at.astimezone(ZoneInfo("Europe/Madrid"))
    assert page.post(WEIGH, weigh(when=f"{local:{NUMBERS[order]}}")).status_code == 302
    assert weights() == [at]


def test_a_time_of_another_order_is_refused_in_words_and_nothing_is_lost(
    page: Client, family: UUID, weigh: Form
) -> None:
    use("month first")
    html = page.post(WEIGH, weigh(when="25/03/2026 10:00")).content.decode()
    assert "is no day of the calendar. Write it like 11/25/2026 14:30. (CLOCK-001)" in html
    assert 'value="25/03/2026 10:00"' in html
    assert weights() == []


def test_a_page_that_was_open_while_the_order_changed_means_what_it_showed(
    page: Client, family: UUID, weigh: Form
) -> None:
    """Without scripts the text is sent as it was typed: 03/04 must not become another day."""
    use("day first")
    use("month first", 2)
    sent = weigh("", when="03/04/2026 10:00") | {"when-order": "day first"}
    html = page.post(WEIGH, sent).content.decode()
    assert 'value="04/03/2026 10:00"' in html
    assert 'name="when-order" value="month first"' in html


def test_an_earlier_time_is_asked_for_in_the_clinics_order(page: Client, family: UUID) -> None:
    use("month first")
    then = datetime.now(ZoneInfo("Europe/Madrid")) - timedelta(hours=1)
    html = page.get(PAGE, {"as_of": f"{then:%m/%d/%Y %H:%M}", "as_of-order": "month first"})
    text = html.content.decode()
    assert f'value="{then:%m/%d/%Y %H:%M}"' in text
    assert "as_of-order=month+first" in text
    wrong = page.get(PAGE, {"as_of": "25/03/2026 10:00"})
    assert wrong.status_code == 400
    assert "11/25/2026 14:30" in wrong.content.decode()


def test_the_trail_is_searched_in_the_clinics_order_and_its_links_keep_it(
    page: Client, family: UUID
) -> None:
    use("month first")
    page.get(PAGE)
    today = datetime.now(ZoneInfo("Europe/Madrid"))
    asked = {"since": f"{today:%m/%d/%Y}", "since-order": "month first"}
    html = page.get("/trail/", asked).content.decode()
    assert "read: the family" in " ".join(html.split())
    assert "since-order=month+first" in html
    wrong = page.get("/trail/", {"since": "25/03/2026"}).content.decode()
    assert "is no day of the calendar. Write it like 11/25/2026. (CLOCK-001)" in wrong


def test_policy_that_is_saved_as_it_is_stores_nothing_and_says_so(page: Client) -> None:
    html = page.get("/policy/")
    form = html.context["form"]
    sent = {one.html_name: one.value() for one in form if one.value() not in (None, "", False)}
    assert "changed; every family" in page.post("/policy/", sent, follow=True).content.decode()
    assert len(policy_history()) == 1
    again = sent | {"version_id": str(an_id("again"))}
    said = page.post("/policy/", again, follow=True).content.decode()
    assert "Nothing was changed: the policy was like this already." in said
    assert len(policy_history()) == 1
    # The same press once more is the same version, and was a change.
    assert "changed; every family" in page.post("/policy/", sent, follow=True).content.decode()
    page.post("/policy/", again | {"clinic_name": "Another"})
    assert len(policy_history()) == 2


def one_at_night() -> datetime:
    """Now, by the clock of a clinic where it is one in the night."""
    hours = (1 - datetime.now(UTC).hour + 12) % 24 - 12
    use("day first", zone=f"Etc/GMT{-hours:+d}")
    return datetime.now(UTC) + timedelta(hours=hours)


def test_after_midnight_a_time_of_the_evening_is_asked_about_and_taken_when_answered(
    page: Client, family: UUID, weigh: Form
) -> None:
    local = one_at_night()
    typed = weigh(when=f"{local:%d/%m/%Y} 23:30")
    html = page.post(WEIGH, typed).content.decode()
    summary = html.partition('id="what-is-wrong"')[2].partition("</div>")[0]
    assert "is still to come. Was it the day before?" in summary
    assert weights() == []
    answer = re.search(r'name="when-meant"\s+value="([0-9a-f]{16})"', html)
    assert answer is not None
    assert page.post(WEIGH, typed | {"when-meant": answer[1]}).status_code == 302
    (taken,) = weights()
    assert timedelta(hours=1) < datetime.now(UTC) - taken < timedelta(hours=3)


@pytest.mark.parametrize("clock", ["12:30", "10:00"])
def test_what_is_no_evening_is_refused_as_still_to_come(
    page: Client, family: UUID, weigh: Form, clock: str
) -> None:
    local = one_at_night()
    html = page.post(WEIGH, weigh(when=f"{local:%d/%m/%Y} {clock}")).content.decode()
    assert "Was it the day before?" not in html
    assert "TIME-001" in html
    assert weights() == []
