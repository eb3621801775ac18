"""A flag is handed over from where it stands: the form is filled, and the page says who has it."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from django.test import Client

from suffice.care.family.asking import record_of
from suffice.clinical import entry as domain
from web.story import FAMILY, an_id

PAGE = f"/families/{FAMILY}/"
LINK = re.compile(r'href="([^"]*/enter/(handover|answer)/\?flag=[^"]*)"')
AT_ONCE = re.compile(r'href="([^"]*/enter/handover/\?(?!flag=)[^"]*)"')
pytestmark = pytest.mark.usefixtures("family")


def links(page: Client, kind: str) -> list[str]:
    shown = page.get(PAGE).content.decode()
    return [unescape(href) for href, of in LINK.findall(shown) if of == kind]


def sent(page: Client, link: str, **said: str) -> dict[str, str]:
    """What the browser sends of the form that a link opens, with what is said beside it."""
    form = page.get(link).context["form"]
    shown = {name: form.initial.get(name, "") for name in form.fields}
    return {name: str(value) for name, value in {**shown, **said}.items()}


def test_a_loss_is_handed_over_in_two_taps(page: Client) -> None:
    link = next(one for one in links(page, "handover") if str(an_id("infant 2")) in one)
    answer = page.post(link, sent(page, link), follow=True)
    assert answer.redirect_chain[-1][0] == PAGE
    (fact,) = [
        one.fact for one in record_of(FAMILY).entries if isinstance(one.fact, domain.Handover)
    ]
    assert (fact.to, fact.how) in {("physician", "phone"), ("hospital", "phone")}
    assert fact.flag in link
    assert "Handed over to the " in answer.content.decode()


def test_the_caseload_says_who_has_it(page: Client) -> None:
    for link in links(page, "handover"):
        page.post(link, sent(page, link, name="Dr Aalto"))
    shown = page.get("/").content.decode()
    assert "Handed over to Dr Aalto" in shown
    assert "answer by" in shown


def test_an_answer_is_asked_who_gave_it(page: Client) -> None:
    link = links(page, "answer")[0]
    refused = page.post(link, sent(page, link))
    assert refused.status_code == 200
    assert set(refused.context["form"].errors) == {"who", "found"}
    answered = page.post(link, sent(page, link, who="physician", found="seen"))
    assert answered.status_code == 302


def test_a_flag_of_one_twin_is_not_handed_over_for_the_other(page: Client) -> None:
    link = next(one for one in links(page, "handover") if str(an_id("infant 2")) in one)
    refused = page.post(link, sent(page, link, infant="parent"))
    assert "somebody else of the family" in refused.content.decode()


def test_a_code_that_nobody_knows_is_refused(page: Client) -> None:
    link = links(page, "handover")[0]
    refused = page.post(link, sent(page, link, flag="no such flag"))
    assert "flag" in refused.context["form"].errors


def test_all_that_is_flagged_is_offered(page: Client) -> None:
    form = page.get(f"{PAGE}enter/handover/").context["form"]
    codes = [code for code, _ in form.fields["flag"].choices]
    assert codes[0] == ""
    assert len(codes) > 1
    assert form.initial["when"].startswith(f"{datetime.now(UTC):%Y-}")


def test_what_is_known_is_one_flag(page: Client) -> None:
    form = page.get(f"{PAGE}enter/known/").context["form"]
    assert "" not in [code for code, _ in form.fields["flag"].choices]


def test_an_answer_expected_in_a_year_is_refused(page: Client) -> None:
    """How long a red flag may stand behind: common practice, no source gives the hours."""
    link = next(one for one in links(page, "handover") if str(an_id("infant 2")) in one)
    refused = page.post(link, sent(page, link, answer_by="2199-01-01T12:00"))
    assert refused.status_code == 200
    assert "2199" in str(refused.context["form"].errors["answer_by"])
    assert "is too late" in str(refused.context["form"].errors["answer_by"])
    assert not any(isinstance(one.fact, domain.Handover) for one in record_of(FAMILY).entries)


def test_a_next_date_far_ahead_is_asked_about(page: Client) -> None:
    link = next(one for one in links(page, "handover") if str(an_id("infant 2")) in one)
    known = link.replace("/handover/", "/known/")
    asked = page.post(known, sent(page, known, who="physician", next_at="2199-01-01T12:00"))
    assert "is far ahead" in asked.content.decode()
    assert not any(isinstance(one.fact, domain.Known) for one in record_of(FAMILY).entries)


def test_all_of_one_infant_is_handed_over_from_the_head_of_the_flags(page: Client) -> None:
    """The page offers it unopened, says everything of whom and to whom, and no more once it is taken."""
    (link,) = map(unescape, AT_ONCE.findall(page.get(PAGE).content.decode()))
    form = page.get(link).context["form"]
    assert form.initial["infant"] == str(an_id("infant 2"))
    assert form.initial["how"] == "phone"
    assert not form.initial.get("flag")
    page.post(link, sent(page, link))
    (fact,) = [
        one.fact for one in record_of(FAMILY).entries if isinstance(one.fact, domain.Handover)
    ]
    assert fact.flag is None
    assert not AT_ONCE.findall(page.get(PAGE).content.decode())
