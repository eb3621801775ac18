"""Signing in with an account elsewhere: the whole code flow with a provider that runs, and all its faults."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from http.client import HTTPResponse
from pathlib import Path
from urllib.parse import parse_qs, urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

import pytest
from django.contrib.auth.models import User
from django.test import Client

from identity_provider import CLIENT, SECRET, Started, started
from members import a_member
from soft_key import SoftKey
from suffice.care import trail
from suffice.care.clinic import outside
from suffice.care.clinic.access import access_of
from suffice.errors import InputError
from suffice.record.accounts import passkeys_of
from suffice.web.people import outside as pages
from web.test_passkeys import add

BEGIN, BACK = "/sign-in/outside/", "/sign-in/outside/back/"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> None:
    """A trail of its own."""
    settings.HOME = tmp_path


@pytest.fixture(scope="module")
def running() -> Iterator[Started]:
    with started() as provider:
        yield provider


@pytest.fixture
def provider(running: Started, settings, consultant: User) -> Started:
    """The provider, set up, and nothing wrong with it; Marta is `colleague` here."""
    settings.SUFFICE_OIDC = {"issuer": running.issuer, "program": CLIENT, "secret": SECRET}
    settings.SUFFICE_OIDC_NAME = "the hospital"
    pages._registered.cache_clear()
    running.control()
    return running


def link(name: str, linked: str, issuer: str) -> None:
    admin = User.objects.get(username="consultant")
    access = access_of(admin.pk, "consultant", is_administrator=True)
    outside.link(access, name, issuer, linked, now=datetime.now(UTC))


class _Stay(HTTPRedirectHandler):
    def redirect_request(self, *_arguments: object) -> Request | None:
        return None

    def http_error_302(self, _request: object, answer: HTTPResponse, *_rest: object):
        return answer


def at_provider(address: str) -> str:
    """Where the provider leads whoever is sent to this address."""
    with build_opener(_Stay).open(address, timeout=30) as answer:
        return answer.headers["Location"]


def sign_in(client: Client, going_to: str = "/", **changed: str):
    there = client.get(BEGIN, {"next": going_to})["Location"]
    asked = {name: values[0] for name, values in parse_qs(urlsplit(there).query).items()}
    assert asked["code_challenge_method"] == "S256"
    assert asked["response_type"] == "code"
    assert asked["nonce"]
    back = at_provider(there)
    sent = {name: values[0] for name, values in parse_qs(urlsplit(back).query).items()}
    assert urlsplit(back).path == BACK
    return client.get(BACK, sent | {"again": "1"} | changed)


def is_in(client: Client) -> bool:
    return client.get("/").status_code == 200


def test_where_no_provider_is_set_up_there_is_nothing(consultant: User) -> None:
    assert Client().get(BEGIN).status_code == Client().get(BACK).status_code == 404
    assert "outside" not in Client().get("/sign-in/").content.decode()


def test_who_is_linked_by_the_subject_signs_in(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    client = Client()
    assert "Sign in with the hospital" in client.get("/sign-in/").content.decode()
    assert sign_in(client, "/library/")["Location"] == "/library/"
    assert client.get("/").wsgi_request.user == colleague
    events = trail.events(trail.Asked(who="colleague", act="sign-in"), most=5)
    assert len(events) == 1


def test_what_the_provider_sends_is_asked_for_once_more_by_a_page_of_ours(
    provider: Started, colleague: User
) -> None:
    """With its own request no browser sends the cookie of the session."""
    said = Client().get(BACK, {"code": "a", "state": "b", "x": "c"}).content.decode()
    assert f'content="0; url={BACK}?code=a&amp;state=b&amp;again=1"' in said


def test_nobody_signs_in_who_is_not_linked(provider: Started, colleague: User) -> None:
    client = Client()
    provider.control(email="colleague@clinic.example", email_verified=True)
    assert sign_in(client)["Location"] == "/sign-in/"
    assert "USER-016" in client.get("/sign-in/").content.decode()
    assert not is_in(client)
    assert User.objects.count() == 2, "an account elsewhere makes none here"


def test_an_address_counts_once_and_only_where_it_is_verified(
    provider: Started, colleague: User
) -> None:
    link("colleague", "Marta@Clinic.example", provider.issuer)
    for verified in (False, None, "true"):
        provider.control(email="marta@clinic.example", email_verified=verified)
        assert sign_in(Client())["Location"] == "/sign-in/"
    provider.control(email="marta@clinic.example", email_verified=True)
    client = Client()
    sign_in(client)
    assert is_in(client)
    assert outside.linked_to(colleague.pk) == "subject-1"
    # The address belongs to somebody else now.
    provider.control(sub="subject-2", email="marta@clinic.example", email_verified=True)
    assert sign_in(Client())["Location"] == "/sign-in/"
    provider.control(email="other@clinic.example")
    assert sign_in(Client())["Location"] == "/"


FAULTS = [
    *("nonce", "issuer", "audience", "expired", "key", "unsigned", "denied", "mix-up", "metadata"),
    *("without nonce", "without sub", "without aud", "without exp", "without iss"),
    "keys moved",
    "token moved",
]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_token_that_is_not_the_providers_word_for_us_now_is_refused(
    provider: Started, colleague: User, fault: str
) -> None:
    link("colleague", "subject-1", provider.issuer)
    provider.control(fault)
    client = Client()
    assert sign_in(client)["Location"] == "/sign-in/"
    assert "USER-017" in client.get("/sign-in/").content.decode()
    assert not is_in(client)
    assert trail.events(trail.Asked(act="sign-in-failed"), most=5)


def test_a_code_or_state_of_somebody_else_is_refused(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    for changed in ({"state": "x"}, {"code": "x"}):
        client = Client()
        assert sign_in(client, **changed)["Location"] == "/sign-in/"
        assert not is_in(client)
    mine, theirs = Client(), Client()
    back = at_provider(mine.get(BEGIN)["Location"])
    assert theirs.get(f"{back}&again=1")["Location"] == "/sign-in/"
    assert not is_in(theirs)
    assert mine.get(f"{back}&again=1")["Location"] == "/"
    assert mine.get(f"{back}&again=1")["Location"] == "/sign-in/", "once"


def test_it_leads_to_no_page_of_others(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    assert sign_in(Client(), "https://elsewhere.example/")["Location"] == "/"


def test_a_second_factor_is_asked_for_all_the_same(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    own = Client()
    own.force_login(colleague)
    add(own, SoftKey())
    client = Client()
    assert sign_in(client)["Location"] == "/sign-in/code/"
    assert not is_in(client)


def test_who_was_deactivated_signs_in_no_more(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    colleague.is_active = False
    colleague.save()
    assert sign_in(Client())["Location"] == "/sign-in/"


def test_a_provider_that_is_away_is_said(provider: Started, settings, colleague: User) -> None:
    settings.SUFFICE_OIDC = settings.SUFFICE_OIDC | {"issuer": "http://127.0.0.1:9"}
    client = Client()
    assert client.get(BEGIN)["Location"] == "/sign-in/"
    assert "USER-017" in client.get("/sign-in/").content.decode()


def test_an_administrator_links_and_nobody_else(
    page: Client, provider: Started, colleague: User
) -> None:
    page.post("/users/colleague/", {"do": "outside", "linked": " subject-1 "})
    assert 'value="subject-1"' in page.get("/users/colleague/").content.decode()
    other = a_member("other", "lead")
    page.post("/users/other/", {"do": "outside", "linked": "subject-1"})
    assert "USER-015" in page.get("/users/other/").content.decode()
    lead = Client()
    lead.force_login(other)
    assert 'name="linked"' not in lead.get("/users/colleague/").content.decode()
    refused = lead.post("/users/colleague/", {"do": "outside", "linked": ""})
    assert "ACCESS-001" in lead.get(refused["Location"]).content.decode()
    assert outside.linked_to(colleague.pk) == "subject-1"
    page.post("/users/colleague/", {"do": "outside", "linked": ""})
    assert outside.linked_to(colleague.pk) == ""


def test_a_link_that_is_too_long_is_refused(provider: Started, colleague: User) -> None:
    with pytest.raises(InputError, match="USER-015"):
        link("colleague", "x" * 256, provider.issuer)


def test_a_session_of_nobody_ends_soon_and_one_of_somebody_as_any(
    provider: Started, colleague: User
) -> None:
    """Whoever asks for a sign-in again and again leaves little behind."""
    link("colleague", "subject-1", provider.issuer)
    client = Client()
    client.get(BEGIN, {"next": "/" + "x" * 9000})
    assert client.session.get_expiry_age() <= 600
    assert len(client.session[pages.GOING_TO]) <= pages.ADDRESS_LENGTH
    sign_in(client)
    assert is_in(client)
    assert client.session.get_expiry_age() == 12 * 3600
    # Nor does asking shorten the session of who is there.
    client.get(BEGIN)
    assert client.session.get_expiry_age() == 12 * 3600


def sign_out(client: Client) -> str:
    """Sign out; the address at the provider to which the page leads, if it leads to one."""
    answer = client.post("/sign-out/")
    assert not is_in(client)
    if answer.status_code == 302:
        assert answer["Location"] == "/sign-in/"
        return ""
    assert "no-store" in answer["Cache-Control"]
    found = re.search(r'content="0; url=([^"]+)"', answer.content.decode())
    assert found
    return html.unescape(found[1])


def test_who_signs_out_here_signs_out_at_the_provider_too(
    provider: Started, colleague: User
) -> None:
    link("colleague", "subject-1", provider.issuer)
    before, client = provider.control(), Client()
    sign_in(client)
    there = sign_out(client)
    asked = {name: values[0] for name, values in parse_qs(urlsplit(there).query).items()}
    assert asked["post_logout_redirect_uri"] == "http://testserver/sign-in/"
    assert asked["client_id"] == CLIENT
    assert at_provider(there) == "http://testserver/sign-in/"
    assert provider.control() == [*before, "subject-1"]
    # The next sign-out of this browser is not the provider's matter.
    client.force_login(colleague)
    assert sign_out(client) == ""


def test_the_token_that_waits_for_it_is_sealed(provider: Started, colleague: User) -> None:
    link("colleague", "subject-1", provider.issuer)
    client = Client()
    sign_in(client)
    kept = json.dumps(dict(client.session))
    assert "/end" in kept
    # A signed token begins so, whatever it says.
    assert "eyJ" not in kept
    assert "subject-1" not in kept


@pytest.mark.parametrize("fault", ["no end", "odd end"])
def test_a_provider_that_names_no_page_for_it_is_not_asked(
    provider: Started, colleague: User, fault: str
) -> None:
    link("colleague", "subject-1", provider.issuer)
    provider.control(fault)
    client = Client()
    sign_in(client)
    assert is_in(client)
    assert sign_out(client) == ""


def test_a_token_of_another_person_or_key_leads_nowhere(
    provider: Started, settings, colleague: User
) -> None:
    link("colleague", "subject-1", provider.issuer)
    client = Client()
    sign_in(client)
    session = client.session
    session["outside session"] |= {"user": colleague.pk + 1}
    session.save()
    assert sign_out(client) == ""
    sign_in(client)
    session = client.session
    session["outside session"] |= {"token": "x"}
    session.save()
    assert sign_out(client) == ""


def test_nobody_waits_for_a_provider_that_is_away_to_sign_out(
    running: Started, settings, consultant: User, colleague: User
) -> None:
    """What must be known is known since the sign-in."""
    with started() as going:
        settings.SUFFICE_OIDC = {"issuer": going.issuer, "program": CLIENT, "secret": SECRET}
        pages._registered.cache_clear()
        link("colleague", "subject-1", going.issuer)
        client = Client()
        sign_in(client)
    pages._registered.cache_clear()
    assert sign_out(client).startswith(f"{going.issuer}/end?")


@pytest.fixture
def without_passphrase(provider: Started, colleague: User) -> User:
    """Somebody who signs in at the provider only."""
    link("colleague", "subject-1", provider.issuer)
    colleague.set_unusable_password()
    colleague.save()
    return colleague


def sign_in_anew(client: Client, page: str) -> None:
    """Follow the link with which a page asks for a new sign-in."""
    found = re.search(rf'href="({BEGIN}[^"]+)"', client.get(page).content.decode())
    assert found
    query = parse_qs(urlsplit(html.unescape(found[1])).query)
    assert query["next"] == [page]
    back = at_provider(client.get(html.unescape(found[1]))["Location"])
    assert client.get(f"{back}&again=1")["Location"] == page


def test_who_sits_down_at_an_open_screen_of_such_an_account_adds_no_way_in(
    provider: Started, without_passphrase: User
) -> None:
    client = Client()
    sign_in(client)
    assert "Sign in with the hospital once more" in add(client, SoftKey()).content.decode()
    # The provider knows the browser still and asks nobody for anything.
    sign_in(client)
    add(client, SoftKey())
    for page in ("/account/passkeys/", "/account/codes/"):
        assert f'href="{BEGIN}?anew=1&amp;next={page}"' in client.get(page).content.decode()
    assert "once more" in client.post("/account/codes/", {"code": "123456"}).content.decode()
    assert passkeys_of(without_passphrase.pk) == ()


@pytest.mark.parametrize("fault", ["silent", "long ago"])
def test_a_provider_that_asked_nobody_proves_nothing(
    provider: Started, without_passphrase: User, fault: str
) -> None:
    provider.control(fault)
    client = Client()
    sign_in(client)
    sign_in_anew(client, "/account/passkeys/")
    add(client, SoftKey())
    assert passkeys_of(without_passphrase.pk) == ()


def test_whoever_signs_in_anew_adds_and_removes_a_passkey_for_ten_minutes(
    provider: Started, without_passphrase: User, monkeypatch
) -> None:
    client = Client()
    sign_in(client)
    sign_in_anew(client, "/account/passkeys/")
    key = SoftKey()
    add(client, key)
    (kept,) = passkeys_of(without_passphrase.pk)
    monkeypatch.setattr("suffice.web.people.owner.PROVEN_FOR_S", -1)
    sent = {"do": "remove", "key": kept.id, "sure": "1"}
    assert "Not removed" in client.post("/account/passkeys/", sent).content.decode()
    assert passkeys_of(without_passphrase.pk) == (kept,)
    monkeypatch.undo()
    client.post("/account/passkeys/", sent)
    assert passkeys_of(without_passphrase.pk) == ()


def test_a_proof_of_somebody_else_is_none(
    provider: Started, without_passphrase: User, consultant: User
) -> None:
    client = Client()
    sign_in(client)
    sign_in_anew(client, "/account/passkeys/")
    proof = client.session["proven elsewhere"]
    consultant.set_unusable_password()
    consultant.save()
    other = Client()
    other.force_login(consultant)
    session = other.session
    session["proven elsewhere"] = proof
    session.save()
    add(other, SoftKey())
    assert passkeys_of(consultant.pk) == ()


@pytest.mark.parametrize("fault", ["", "long ago", "silent"])
def test_a_locked_screen_is_opened_by_nobody_whom_the_provider_did_not_ask(
    provider: Started, without_passphrase: User, fault: str
) -> None:
    """The provider knows the browser for hours: two presses of a stranger would open the screen.

    One that never says when somebody signed in was asked to ask all the same.
    """
    client = Client()
    sign_in(client)
    client.post("/lock/")
    assert not is_in(client)
    assert "Sign in with the hospital" in client.get("/sign-in/").content.decode()
    provider.control(fault)
    answer = sign_in(client, "/library/")
    if fault == "long ago":
        assert answer["Location"] == "/sign-in/"
        assert "USER-018" in client.get("/sign-in/").content.decode()
        assert not is_in(client)
    else:
        assert answer["Location"] == "/library/"
        assert is_in(client)


def test_a_stranger_who_leaves_out_the_wish_to_ask_opens_no_locked_screen(
    provider: Started, without_passphrase: User
) -> None:
    client = Client()
    sign_in(client)
    client.post("/lock/")
    there = client.get(BEGIN)["Location"]
    assert "prompt=login" in there
    back = at_provider(there.replace("prompt=login", "prompt=none"))
    assert client.get(f"{back}&again=1")["Location"] == "/sign-in/"
    assert not is_in(client)
