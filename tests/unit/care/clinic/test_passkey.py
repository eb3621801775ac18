"""A passkey signs in its person, on this site, for what was asked just now, and nothing else does."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User

from members import a_member
from soft_key import PRESENT, SoftKey, read, text
from suffice.care.clinic import accounts, passkey
from suffice.care.clinic.access import access_of
from suffice.care.clinic.passkey import Site
from suffice.errors import InputError
from suffice.record import accounts as shelf

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)
SITE = Site(origin="http://testserver", host="testserver", clinic="Test")


@pytest.fixture
def user() -> User:
    return a_member("ines")


@pytest.fixture
def key(user: User) -> SoftKey:
    made = SoftKey()
    add(user, made)
    return made


def add(user: User, key: SoftKey, called: str = "phone", site: Site = SITE) -> None:
    begun = passkey.begin_adding(site, user.pk, user.username)
    answer = key.made(begun.asked)
    given = {"state": begun.state, "answer": answer, "called": called, "now": NOW}
    passkey.add(site, user.pk, user.username, **given)


def sign_in(key: SoftKey, **changed: object) -> int:
    begun = passkey.begin_signing_in(SITE)
    given = {"state": begun.state, "answer": key.signed(begun.asked), "now": NOW}
    return passkey.person_of(SITE, **(given | changed))


def refused(act, *args, **options) -> None:
    with pytest.raises(InputError, match="USER-013"):
        act(*args, **options)


def test_it_signs_its_person_in_and_counts_as_a_second_factor(user: User, key: SoftKey) -> None:
    assert sign_in(key) == sign_in(key) == user.pk
    (kept,) = shelf.passkeys_of(user.pk)
    assert (kept.called, kept.made_at, kept.used_at) == ("phone", NOW, NOW)
    access = access_of(user.pk, "ines", is_administrator=False)
    assert access.has_factor
    assert not access.has_codes
    assert shelf.has_factor(user.pk)
    assert not shelf.has_codes(user.pk)


def test_what_was_asked_is_answered_once_and_for_this_site_only(key: SoftKey) -> None:
    refused(sign_in, key, state=passkey.begin_signing_in(SITE).state)
    refused(sign_in, key, state=None)
    for host, origin in (
        ("elsewhere", SITE.origin),
        (SITE.host, "http://elsewhere"),
        (SITE.host, "https://testserver"),
    ):
        key.host, key.origin = host, origin
        refused(sign_in, key)


def test_a_device_that_has_not_made_sure_who_holds_it_is_refused(user: User, key: SoftKey) -> None:
    key.flags = PRESENT
    refused(sign_in, key)
    other = SoftKey()
    other.flags = PRESENT
    refused(add, user, other)


def test_another_key_of_the_same_name_is_refused(key: SoftKey) -> None:
    forged = SoftKey()
    forged.id, forged.count = key.id, 7
    refused(sign_in, forged)
    refused(sign_in, SoftKey())


def test_a_copy_that_is_behind_is_refused(key: SoftKey) -> None:
    sign_in(key)
    key.count -= 1
    refused(sign_in, key)


def test_a_device_that_does_not_count_is_taken(user: User) -> None:
    key = SoftKey()
    key.count = -1
    add(user, key)
    for _ in range(2):
        key.count = -1
        assert sign_in(key) == user.pk


NESTED = ("[" * 20_000, '{"a":' * 3_900)


@pytest.mark.parametrize(
    "answer", ["", "x", "[]", "{}", '{"id": 1}', "null", "1" * 30_000, *NESTED]
)
def test_nonsense_is_refused(key: SoftKey, user: User, answer: str) -> None:
    refused(sign_in, key, answer=answer)
    begun = passkey.begin_adding(SITE, user.pk, "ines")
    given = {"state": begun.state, "answer": answer, "called": "x", "now": NOW}
    refused(passkey.add, SITE, user.pk, "ines", **given)


def test_what_is_cut_off_anywhere_or_nests_without_end_ends_in_no_fault(user: User) -> None:
    """The reader takes some of them: a key that is cut off is its owner's own, and signs nobody in."""
    begun = passkey.begin_adding(SITE, user.pk, "ines")
    whole = json.loads(SoftKey().made(begun.asked))
    sealed = read(whole["response"]["attestationObject"])
    for content in (*(sealed[:end] for end in range(len(sealed))), b"\x81" * 14_000):
        whole["response"]["attestationObject"] = text(content)
        given = {"state": begun.state, "answer": json.dumps(whole), "called": "x", "now": NOW}
        with suppress(InputError):
            passkey.add(SITE, user.pk, "ines", **given)
    refused(passkey.add, SITE, user.pk, "ines", **given)


def test_an_altered_signature_is_refused(key: SoftKey) -> None:
    begun = passkey.begin_signing_in(SITE)
    answer = json.loads(key.signed(begun.asked))
    signature = bytearray(read(answer["response"]["signature"]))
    signature[-1] ^= 1
    answer["response"]["signature"] = text(bytes(signature))
    refused(passkey.person_of, SITE, state=begun.state, answer=json.dumps(answer), now=NOW)


def test_who_was_deactivated_signs_in_no_more(user: User, key: SoftKey) -> None:
    user.is_active = False
    user.save()
    refused(sign_in, key)


def test_after_a_passphrase_only_that_person_is_taken(user: User, key: SoftKey) -> None:
    assert sign_in(key, only=user.pk) == user.pk
    refused(sign_in, key, only=a_member("other").pk)


def test_a_passkey_is_added_once_and_not_to_two_people(user: User, key: SoftKey) -> None:
    refused(add, user, key)
    refused(add, a_member("other"), key)


def test_there_is_an_end_to_how_many(user: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passkey, "MOST", 2)
    for _ in range(2):
        add(user, SoftKey())
    with pytest.raises(InputError, match="USER-014"):
        add(user, SoftKey())


def test_it_is_named_and_removed_by_its_person_only(user: User, key: SoftKey) -> None:
    (kept,) = shelf.passkeys_of(user.pk)
    other = a_member("other")
    passkey.rename(other.pk, kept.id, "mine now")
    passkey.remove(other.pk, "other", kept.id, by="other")
    passkey.rename(user.pk, kept.id, "  ")
    assert [one.called for one in shelf.passkeys_of(user.pk)] == ["phone"]
    passkey.rename(user.pk, kept.id, " old  phone ")
    assert [one.called for one in shelf.passkeys_of(user.pk)] == ["old phone"]
    passkey.remove(user.pk, "ines", kept.id, by="ines")
    refused(sign_in, key)


def test_whoever_looks_after_accounts_takes_passkeys_away(user: User, key: SoftKey) -> None:
    accounts.remove_factor(None, "ines")
    assert shelf.passkeys_of(user.pk) == ()
    refused(sign_in, key)
