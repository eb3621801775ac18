"""Passkeys (WebAuthn): a key that never leaves the person's device, opened there by finger, face or PIN.

A passkey whose device has verified the person is two factors in one: what the person has, and what the
person is or knows. It signs in by itself, and after a passphrase it stands in for a one-time code. The key is
bound to the name of the host, so that no other page can ask for it. What is kept is its public half.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final
from uuid import UUID

import msgspec
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from fido2.server import Fido2Server
from fido2.utils import websafe_decode, websafe_encode
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    PublicKeyCredentialRpEntity,
    PublicKeyCredentialUserEntity,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from suffice.care.clinic.noted import note
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import accounts as shelf
from suffice.record.accounts import Passkey

NAME_LENGTH: Final = 60
MOST: Final = 20
"""Passkeys of one person: a few devices, and some that were forgotten."""
ANSWER_LENGTH: Final = 20_000
_NO_ANSWER: Final = (
    *(ValueError, LookupError, TypeError, AttributeError, ArithmeticError),
    *(RecursionError, NotImplementedError, struct.error),
    *(InvalidSignature, UnsupportedAlgorithm),
)
"""What reading raises that was sent by nobody's device: it may be anything, nested however deep."""


class Site(msgspec.Struct, frozen=True, kw_only=True):
    """Where the pages are, as a browser sees it: ``https://suffice.example`` and its host."""

    origin: str
    host: str
    clinic: str

    def server(self) -> Fido2Server:
        """Checks what devices answer for this site, and no other."""
        of = PublicKeyCredentialRpEntity(name=f"Suffice {self.clinic}", id=self.host)
        return Fido2Server(of, verify_origin=lambda origin: origin == self.origin)


class Begun(msgspec.Struct, frozen=True, kw_only=True):
    """What the browser is asked, as JSON, and what must be kept until it answers."""

    asked: str
    state: dict[str, Any]


def begin_adding(site: Site, user_id: int, name: str) -> Begun:
    """Ask the browser for a new passkey of a person."""
    user = PublicKeyCredentialUserEntity(
        id=f"suffice {user_id}".encode(), name=name, display_name=name
    )
    asked, state = site.server().register_begin(
        user,
        [_credential(one) for one in shelf.passkeys_of(user_id)],
        resident_key_requirement=ResidentKeyRequirement.REQUIRED,
        user_verification=UserVerificationRequirement.REQUIRED,
    )
    return Begun(asked=json.dumps(dict(asked)["publicKey"]), state=state)


def add(
    site: Site,
    user_id: int,
    name: str,
    *,
    state: Mapping[str, Any] | None,
    answer: str,
    called: str,
    now: datetime,
) -> None:
    """Keep a new passkey of a person.

    Args:
        site: Where the pages are.
        user_id: The person.
        name: The name that the person signs in with.
        state: What :func:`begin_adding` said must be kept.
        answer: What the browser answered, as JSON.
        called: What the person calls the passkey.
        now: The instant.

    Raises:
        InputError: USER-013, when it is no answer to what was asked; USER-014, when there are too many.
    """
    called = " ".join(called.split())[:NAME_LENGTH]
    if len(shelf.passkeys_of(user_id)) >= MOST:
        raise InputError(_too_many())
    try:
        made = site.server().register_complete(state or {}, _read(answer))
    except _NO_ANSWER as error:
        raise InputError(not_right()) from error
    credential = made.credential_data
    if credential is None or not shelf.put_passkey(
        user_id,
        credential_id=websafe_encode(credential.credential_id),
        credential=websafe_encode(bytes(credential)),
        called=called,
        count=made.counter,
        now=now,
    ):
        raise InputError(not_right())
    note("passkey.added", by=name, about=name)


def begin_signing_in(site: Site, user_id: int | None = None) -> Begun:
    """Ask the browser to sign with a passkey: of a person, or of whoever is there."""
    known = None if user_id is None else [_credential(one) for one in shelf.passkeys_of(user_id)]
    asked, state = site.server().authenticate_begin(
        known, user_verification=UserVerificationRequirement.REQUIRED
    )
    return Begun(asked=json.dumps(dict(asked)["publicKey"]), state=state)


def person_of(
    site: Site,
    *,
    state: Mapping[str, Any] | None,
    answer: str,
    now: datetime,
    only: int | None = None,
) -> int:
    """The number of the person whose passkey has signed what was asked.

    Args:
        site: Where the pages are.
        state: What :func:`begin_signing_in` said must be kept.
        answer: What the browser answered, as JSON.
        now: The instant.
        only: The person who gave the right passphrase before, and nobody else; None for anybody.

    Raises:
        InputError: USER-013: another passkey, another question, a copy that is behind the original, or a
            person who cannot sign in any more.
    """
    try:
        read = _read(answer)
        response = AuthenticationResponse.from_dict(read)
        found = shelf.passkey(websafe_encode(response.raw_id))
        if found is None or state is None or only not in {None, found.user_id}:
            raise InputError(not_right())
        site.server().authenticate_complete(state, [_credential(found)], read)
        count = response.response.authenticator_data.counter
    except _NO_ANSWER as error:
        raise InputError(not_right()) from error
    # A device that counts never counts back: of two that do, one is a copy.
    if not shelf.use_passkey(found.id, count=count, now=now):
        raise InputError(not_right())
    return found.user_id


def rename(user_id: int, passkey_id: UUID, called: str) -> None:
    """Call a passkey otherwise."""
    called = " ".join(called.split())[:NAME_LENGTH]
    if called:
        shelf.rename_passkey(user_id, passkey_id, called)


def remove(user_id: int, name: str, passkey_id: UUID | None, *, by: str) -> None:
    """Let a passkey of a person sign in no more; all of them, where none is named."""
    if shelf.drop_passkeys(user_id, passkey_id):
        note("passkey.removed", by=by, about=name)


def _read(answer: str) -> dict[str, Any]:
    if len(answer) > ANSWER_LENGTH:
        raise ValueError
    read = json.loads(answer)
    if not isinstance(read, dict):
        raise TypeError
    return read


def _credential(kept: Passkey) -> AttestedCredentialData:
    return AttestedCredentialData(websafe_decode(kept.credential))


def not_right() -> Problem:
    """USER-013: said alike of whatever was wrong, so that it tells nothing of who has a passkey."""
    return Problem(
        code="USER-013",
        what=message("This passkey was not taken."),
        why=message("It is not known here any more, or it did not answer what was asked just now."),
        fix=message("Try again, or sign in with your name and passphrase."),
    )


def _too_many() -> Problem:
    return Problem(
        code="USER-014",
        what=message("No passkey was added."),
        why=message("You have {most} already.", most=MOST),
        fix=message("Remove those of devices that you do not use any more."),
    )
