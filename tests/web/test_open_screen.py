"""A screen that its user left open: whoever sits down there gets no way in for later, and is not a second person."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4

import pyotp
import pytest
from django.contrib.auth.models import User
from django.test import Client

from soft_key import SoftKey
from suffice.care import trail
from suffice.care.clinic import outside
from suffice.care.clinic.clinic import change_policy
from suffice.record import erasure
from suffice.record.accounts import has_codes, passkeys_of
from web.story import FAMILY, PASSPHRASE
from web.test_code import KEY, RECOVERY, asked, clock  # noqa: F401 -- a fixture
from web.test_passkeys import OWN, add, is_in, use
from web.ticking import Clock

CODES, MINE = "/account/codes/", "/users/consultant/"
ERASE, ERASURES = f"/families/{FAMILY}/erase/", "/erasures/"


@pytest.fixture(autouse=True)
def home(settings, tmp_path: Path) -> None:
    """A trail of its own."""
    settings.HOME = tmp_path


def secret_shown(page: Client, **sent: str) -> pyotp.TOTP:
    answer = page.post(CODES, sent) if sent else page.get(CODES)
    found = KEY.search(answer.content.decode())
    assert found is not None
    return pyotp.TOTP(found[1].replace(" ", ""))


def set_up(page: Client, clock: Clock) -> tuple[pyotp.TOTP, list[str]]:  # noqa: F811
    device = secret_shown(page)
    sent = {"code": device.at(clock.now), "passphrase": PASSPHRASE}
    recovery = RECOVERY.findall(page.post(CODES, sent).content.decode())
    clock.go(60)
    return device, recovery


def refused() -> list[tuple[str, str]]:
    """Who was refused, and where, the latest last."""
    found = trail.events(trail.Asked(act="sign-in-failed"), most=50)
    return [(one.event.who, one.event.page) for one in reversed(found)]


def done() -> set[str]:
    return {one.event.page for one in trail.events(trail.Asked(who="consultant"), most=50)}


def also_in(user: User) -> Client:
    other = Client()
    other.force_login(user)
    assert is_in(other)
    return other


def test_a_secret_that_was_seen_there_is_not_the_one_its_owner_takes(
    page: Client,
    clock: Clock,  # noqa: F811
) -> None:
    seen, own = secret_shown(page), secret_shown(page)
    assert seen.secret != own.secret
    sent = {"code": seen.at(clock.now), "passphrase": PASSPHRASE}
    shown = secret_shown(page, **sent)
    assert shown.secret == own.secret, "what the owner has scanned stays after a slip"
    sent["code"] = own.at(clock.now)
    assert len(RECOVERY.findall(page.post(CODES, sent).content.decode())) == 10


def test_the_own_account_is_neither_reset_nor_freed_of_its_factors_under_users(
    page: Client, consultant: User
) -> None:
    add(page, SoftKey())
    html = page.get(MINE).content.decode()
    assert 'value="reset"' not in html
    assert 'value="factor"' not in html
    for act in ("reset", "factor"):
        answer = page.post(MINE, {"do": act})
        assert (answer.status_code, "USER-007" in answer.content.decode()) == (400, True)
    consultant.refresh_from_db()
    assert consultant.check_password(PASSPHRASE)
    assert len(passkeys_of(consultant.pk)) == 1


def test_the_own_account_is_linked_to_one_elsewhere_by_its_owner_only(
    page: Client, consultant: User, settings
) -> None:
    settings.SUFFICE_OIDC = {"issuer": "https://id.example", "program": "s", "secret": ""}
    assert 'name="passphrase"' in page.get(MINE).content.decode()
    for guess in ("", "a guess"):
        page.post(MINE, {"do": "outside", "linked": "intruder", "passphrase": guess})
        assert outside.linked_to(consultant.pk) == ""
    assert "This is not your current passphrase." in page.get(MINE).content.decode()
    assert refused() == [("consultant", "person")]
    page.post(MINE, {"do": "outside", "linked": "own", "passphrase": PASSPHRASE})
    assert outside.linked_to(consultant.pk) == "own"


def test_an_account_of_somebody_else_is_linked_without_it(
    page: Client, colleague: User, settings
) -> None:
    settings.SUFFICE_OIDC = {"issuer": "https://id.example", "program": "s", "secret": ""}
    assert 'name="passphrase"' not in page.get("/users/colleague/").content.decode()
    page.post("/users/colleague/", {"do": "outside", "linked": "theirs"})
    assert outside.linked_to(colleague.pk) == "theirs"


def test_at_the_screen_of_the_second_person_the_first_erases_nothing(
    page: Client, family: UUID, colleague: User
) -> None:
    change_policy(uuid4(), {"retention_years": 0}, now=datetime.now(UTC), actor="consultant")
    User.objects.filter(pk=colleague.pk).update(is_staff=True)
    page.post(ERASE, {"why": "retention"})
    second = also_in(colleague)
    assert 'name="passphrase"' in second.get(ERASURES).content.decode()
    for guess in ("", "a guess"):
        second.post(ERASURES, {"family": FAMILY, "do": "erase", "passphrase": guess})
        assert erasure.request_of(FAMILY) is not None
        assert list(erasure.every()) == []
    assert "This is not your current passphrase." in second.get(ERASURES).content.decode()
    assert refused() == [("colleague", "erasures")]
    second.post(ERASURES, {"family": FAMILY, "do": "erase", "passphrase": PASSPHRASE})
    assert [one.erased_by for one in erasure.every()] == ["colleague"]


def test_a_passkey_that_is_removed_ends_the_sessions_of_other_devices(
    page: Client, consultant: User
) -> None:
    key = SoftKey()
    add(page, key)
    lost = Client()
    use(lost, key)
    assert is_in(lost)
    (kept,) = passkeys_of(consultant.pk)
    sent = {"do": "remove", "key": str(kept.id), "sure": "1", "passphrase": PASSPHRASE}
    page.post(OWN, sent)
    assert is_in(page)
    assert not is_in(lost)


def test_codes_that_are_taken_away_end_them_too(
    page: Client,
    consultant: User,
    clock: Clock,  # noqa: F811
) -> None:
    device, _recovery = set_up(page, clock)
    other = also_in(consultant)
    sent = {"do": "remove", "code": device.at(clock.now), "passphrase": PASSPHRASE}
    page.post(CODES, sent)
    assert not has_codes(consultant.pk)
    assert (is_in(page), is_in(other)) == (True, False)


def test_factors_that_somebody_else_takes_away_end_every_session(
    page: Client, colleague: User
) -> None:
    lost = also_in(colleague)
    add(lost, SoftKey())
    page.post("/users/colleague/", {"do": "factor"})
    assert passkeys_of(colleague.pk) == ()
    assert not is_in(lost)


def test_a_passphrase_that_is_reset_leads_nobody_on_to_the_code(
    page: Client,
    consultant: User,
    clock: Clock,  # noqa: F811
) -> None:
    device, _recovery = set_up(page, clock)
    client = Client()
    assert asked(client) == "/sign-in/code/"
    consultant.set_password("seven calm green herons")
    consultant.save()
    answer = client.post("/sign-in/code/", {"code": device.at(clock.now)})
    assert answer["Location"] == "/sign-in/"
    assert not is_in(client)


def test_what_was_refused_is_on_the_trail_with_who_and_where(
    page: Client,
    consultant: User,
    clock: Clock,  # noqa: F811
) -> None:
    device, _recovery = set_up(page, clock)
    client = Client()
    asked(client)
    client.post("/sign-in/code/", {"code": "000000"})
    wrong = {"do": "remove", "code": "000000", "passphrase": PASSPHRASE}
    page.post(CODES, wrong)
    guessed = {"do": "remove", "code": device.at(clock.now), "passphrase": "a guess"}
    page.post(CODES, guessed)
    page.post(OWN, {"do": "add", "called": "x", "answer": "{}", "passphrase": "a guess"})
    change = {"old_password": "a guess", "new_password1": "x" * 12, "new_password2": "x" * 12}
    page.post("/account/passphrase/", change)
    places = ["sign-in-code", "factor", "factor", "passkeys", "passphrase"]
    assert refused() == [("consultant", one) for one in places]
    html = page.get("/trail/").content.decode()
    assert "the one-time code" in html
    assert "a guess" not in html


def test_recovery_codes_are_on_the_trail_when_they_are_used_and_made_anew(
    page: Client,
    consultant: User,
    clock: Clock,  # noqa: F811
) -> None:
    device, recovery = set_up(page, clock)
    assert not {"factor.recovery-used", "factor.renewed"} & done()
    client = Client()
    asked(client)
    client.post("/sign-in/code/", {"code": recovery[0]})
    assert is_in(client)
    sent = {"do": "renew", "code": device.at(clock.now), "passphrase": PASSPHRASE}
    page.post(CODES, sent)
    assert {"factor.recovery-used", "factor.renewed"} <= done()
