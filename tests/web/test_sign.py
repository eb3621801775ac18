"""A sign is chosen from the list of the content; nothing is chosen beforehand."""

import re
from html import unescape
from uuid import UUID

from django.test import Client
from django.utils import timezone

from suffice.clinical.entry.body import Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.web.entry.forms import FORMS
from web.story import an_id

SENT = {"when": "2026-03-01T10:00", "basis": "observed", "entry_id": str(an_id("entry"))}


def test_a_sign_is_present_or_absent_and_never_supposed():
    asked = {"policy": Policy(), "content": load(), "infants": [(an_id("a"), "Ava")]}
    assert set(FORMS["sign"](SENT, **asked).errors) == {"sign", "present"}
    form = FORMS["sign"](SENT | {"sign": "chills", "present": "no"}, **asked)
    assert (form.is_valid(), form.infant_id) == (True, None)
    assert form.fact() == Sign(sign="chills", present=False)


def test_every_sign_is_a_tap_away_and_the_emergencies_stand_first(
    page: Client, family: UUID
) -> None:
    html = page.get(f"/families/{family}/looks-wrong/").content.decode()
    tapped = re.findall(r"sign\?sign=(\w+)&amp;present=yes", html.replace("sign/?", "sign?"))
    signs = load().vocabularies["signs"]
    assert sorted(tapped) == sorted(signs)
    urgent = [key for key in tapped if signs[key].get_help]
    own = [key for key in urgent if signs[key].about == "infant"]
    assert tapped[: len(urgent)] == urgent
    assert own == urgent[: len(own)]
    assert own[0] == "not_rousable"
    assert (
        f'href="/families/{family}/looks-wrong/"'
        in page.get(f"/families/{family}/").content.decode()
    )


def test_an_emergency_says_what_to_do_before_it_asks_anything(page: Client, family: UUID) -> None:
    html = page.get(f"/families/{family}/enter/sign/?sign=fit&present=yes").content.decode()
    first = html.index("Lay the infant on its side")
    assert first < html.index('name="entry_id"')
    assert '<input type="hidden" name="sign" value="fit"' in html
    calm = page.get(f"/families/{family}/enter/sign/?sign=diaper_rash&present=yes").content.decode()
    assert "Do this first" not in calm
    strange = page.get(f"/families/{family}/enter/sign/?sign=no_such").content.decode()
    assert 'type="hidden" name="sign"' not in strange


def test_an_emergency_that_was_saved_offers_to_be_handed_over(page: Client, family: UUID) -> None:
    def saved(sign: str, present: str) -> str:
        sent = SENT | {"sign": sign, "present": present, "entry_id": str(an_id(sign + present))}
        sent |= {"infant": str(an_id("infant 1")), "when": f"{timezone.now():%Y-%m-%dT%H:%M}"}
        answer = page.post(f"/families/{family}/enter/sign/", sent)
        assert answer.status_code == 302, answer.content.decode()
        html = page.get(f"/families/{family}/").content.decode()
        return html.split('class="acts"', 1)[1].split("</span>", 1)[0]

    offer = f"/families/{family}/enter/handover/"
    said = saved("fit", "yes")
    # Of twins it is handed over for the one whose sign it is; nobody is asked a second time.
    link = unescape(said.split(f'href="{offer}', 1)[1].split('"', 1)[0])
    form = page.get(f"{offer}{link}").content.decode()
    ticked = re.findall(r'<input[^>]*name="infant"[^>]*checked[^>]*>', form)
    assert [str(an_id("infant 1")) in one for one in ticked] == [True]
    assert offer not in saved("fit", "no")
    assert offer not in saved("diaper_rash", "yes")


def test_every_sign_that_is_an_emergency_by_itself_says_what_to_do() -> None:
    signs = load().vocabularies["signs"]
    alone = {
        one.sign
        for row in load().flags
        if row.level == "emergency" and not row.when.parts
        for one in row.when.each()
        if one.sign in signs
    }
    assert len(alone) > 20
    assert {key for key in alone if not signs[key].get_help} == set()
