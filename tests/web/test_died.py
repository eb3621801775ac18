"""That an infant has died: entered from its details, confirmed, and from then on no page asks anything of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.care.family.recording import record_entry
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id, entered
from web.test_entry import token_of

HOME = f"/families/{FAMILY}/"
ENTER = f"{HOME}enter/death/"
SECOND = an_id("infant 2")
"""Ben, who has lost too much."""
ASKS = ("Weigh", "weigh again", "Lost 12", "Not weighed", "feeds")


def sent(**changed: str) -> dict[str, str]:
    return {
        "entry_id": str(an_id("death")),
        "infant": str(SECOND),
        "when": f"{datetime.now(UTC) - timedelta(minutes=30):%Y-%m-%dT%H:%M}",
        "basis": "reported",
    } | changed


def deaths() -> list[domain.Entry]:
    return [one for one in record_of(FAMILY).entries if isinstance(one.fact, domain.Death)]


def has_died(*infants: UUID) -> None:
    for infant in infants:
        one = entered(domain.Death(), infant=infant, key=an_id(f"death {infant}"), hours_ago=0.5)
        record_entry(FAMILY, one, now=datetime.now(UTC), confirmed=True)


def strip(html: str, name: str) -> str:
    """What stands at the head of the family's page of one infant."""
    return next(
        part.split("</section>")[0] for part in html.split("<section ")[1:] if f">{name}" in part
    )


def test_it_is_asked_once_more_and_then_stored(page: Client, family: UUID) -> None:
    html = page.get(f"{ENTER}?infant={SECOND}").content.decode()
    assert "The infant has died" in html
    asked = page.post(ENTER, sent())
    assert asked.status_code == 200
    assert "From then on nothing is asked or planned of it." in asked.content.decode()
    assert not deaths()
    answers = {"when-meant": token_of(asked.content.decode(), "when-meant")}
    assert page.post(ENTER, sent(**answers)).status_code == 302
    (one,) = deaths()
    assert one.infant_id == SECOND
    html = page.get(HOME).content.decode()
    said = strip(html, "Ben")
    assert "Has died, " in said
    assert not [words for words in ASKS if words in said]
    assert 'class="answer"' in said
    assert html.count("data-one-tap") == 1


def test_it_is_offered_quietly_and_not_among_the_entries(page: Client, family: UUID) -> None:
    html = page.get(HOME).content.decode()
    bar = html[html.index("record-bar") : html.index("</nav>", html.index("record-bar"))]
    assert "enter/death/" not in bar
    assert html.count("enter/death/?infant=") == 2


def test_entered_by_mistake_it_is_withdrawn_and_all_is_back(page: Client, family: UUID) -> None:
    before = strip(page.get(HOME).content.decode(), "Ben")
    has_died(SECOND)
    assert "Has died" in strip(page.get(HOME).content.decode(), "Ben")
    (one,) = deaths()
    withdrawn = {"withdrawal_id": str(an_id("withdrawn")), "reason": "the other twin was meant"}
    assert page.post(f"{HOME}entries/{one.id}/withdraw/", withdrawn).status_code == 302
    after = strip(page.get(HOME).content.decode(), "Ben")
    assert "Has died" not in after
    assert ("12" in before, "Has died" in before) == ("12" in after, False)
    assert page.post(ENTER, sent(entry_id=str(an_id("again")))).status_code == 200


def test_a_second_time_is_refused(page: Client, family: UUID) -> None:
    has_died(SECOND)
    html = page.post(ENTER, sent()).content.decode()
    assert "DEATH-002" in html
    assert len(deaths()) == 1


def test_a_weight_of_a_later_time_is_asked_about(page: Client, family: UUID, weigh) -> None:
    has_died(SECOND)
    html = page.post(f"{HOME}enter/weight/", weigh("2600", infant=str(SECOND))).content.decode()
    assert "Something of this infant is of a later time than its death." in html


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_list_says_it_and_asks_nothing(page: Client, family: UUID, language: str) -> None:
    has_died(SECOND, an_id("infant 1"))
    html = page.get("/", HTTP_ACCEPT_LANGUAGE=language).content.decode()
    row = html[html.index("<tbody") :]
    assert row.count("has died") >= 2
    assert "not weighed" not in row
    assert "Lost" not in row


def test_there_is_no_plan_no_day_and_no_paper_of_it(page: Client, family: UUID) -> None:
    has_died(SECOND)
    html = page.get(f"{HOME}plan/?infant={SECOND}").content.decode()
    assert "Ben has died: no plan is made." in html
    assert '<form method="post" data-once class="plan"' not in html
    assert page.post(f"{HOME}plan/", {"infant": str(SECOND)}).status_code == 200
    html = page.get(f"{HOME}papers/?kind=days&whose={SECOND}").content.decode()
    assert "Ben has died: no paper is made of feeding, weighing or days at home." in html
    assert f"kind=log&amp;whose={SECOND}" not in html
    assert f"kind=log&amp;whose={an_id('infant 1')}" in html


def test_where_no_infant_lives_nothing_of_one_is_offered(page: Client, family: UUID) -> None:
    has_died(SECOND, an_id("infant 1"))
    html = page.get(HOME).content.decode()
    bar = html[html.index("record-bar") : html.index("</nav>", html.index("record-bar"))]
    for offered in ("feed/", "/plan/", "enter/weight/", "data-one-tap"):
        assert offered not in bar.split("<details")[0]
    signs = page.get(f"{HOME}looks-wrong/").content.decode()
    assert "Infant: an emergency" not in signs
    assert "an emergency" in signs


def test_a_contact_asks_nothing_of_it(page: Client, family: UUID) -> None:
    has_died(SECOND)
    started = {"place": "home", "key": str(an_id("start"))}
    page.post(f"{HOME}contact/", started)
    html = page.get(f"{HOME}contact/").content.decode()
    assert "Ava: not weighed" in html
    assert "Ben: " not in html


@pytest.mark.parametrize(
    "where", ["feed/", "enter/day/", "enter/weight/", "milk/", "log/", "plan/"]
)
def test_no_page_offers_its_milk_or_its_diapers(page: Client, family: UUID, where: str) -> None:
    first = an_id("infant 1")
    before = page.get(f"{HOME}{where}").content.decode()
    assert str(SECOND) in before
    has_died(SECOND)
    html = page.get(f"{HOME}{where}").content.decode()
    assert str(SECOND) not in html
    assert "Ava" in html or str(first) in html


@pytest.mark.parametrize("where", ["milk/", "log/"])
def test_a_page_of_the_one_that_has_died_is_still_there(
    page: Client, family: UUID, where: str
) -> None:
    has_died(an_id("infant 1"))
    assert "Ben" in page.get(f"{HOME}{where}").content.decode()
    kept = page.get(f"{HOME}{where}?infant={an_id('infant 1')}")
    assert kept.status_code == 200
    assert "Ava" in kept.content.decode()


@pytest.mark.parametrize("kind", ["log", "days", "plan", "letter"])
def test_an_address_of_its_paper_that_was_kept_says_why_there_is_none(
    page: Client, family: UUID, kind: str
) -> None:
    has_died(SECOND)
    answer = page.get(f"{HOME}papers/{kind}/?whose={SECOND}")
    assert (answer.status_code, answer.url) == (302, f"{HOME}papers/?whose={SECOND}")
    assert "Ben has died: no paper is made" in page.get(answer.url).content.decode()
    assert page.get(f"{HOME}papers/{kind}/?whose={an_id('nobody')}").status_code == 404
