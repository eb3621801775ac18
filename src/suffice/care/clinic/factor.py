"""A second factor: one-time codes of a device that the person carries, and recovery codes.

Codes follow RFC 6238 (TOTP): six digits, a new one every 30 seconds, the one before and the one after
taken too, each taken once. The secret is kept sealed by a key that is derived from the installation's
secret key: whoever has the database alone can make no code.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from datetime import datetime
from typing import Final

import pyotp
from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from suffice.care.clinic.noted import note
from suffice.care.clinic.sign_in import begin_code, was_right
from suffice.errors import InputError, Problem
from suffice.message import message
from suffice.record import accounts as shelf
from suffice.record import repository

STEP_S: Final = 30
AROUND: Final = (-1, 0, 1)
"""Time steps that are taken besides the present one: clocks of phones differ."""
RECOVERY_COUNT: Final = 10
RECOVERY_BYTES: Final = 10
KEY_BYTES: Final = 32


def begin(user_id: int, *, anew: bool = False) -> str:
    """A secret for a person, not in use yet.

    Args:
        user_id: The person.
        anew: Whether it is another than the one that was begun: whoever has seen that on a screen that was left
            open could make the codes of its owner later.

    Raises:
        InputError: USER-012.
    """
    kept = shelf.factor_of(user_id)
    if kept is not None:
        if kept.since is not None:
            raise InputError(_in_use())
        if not anew and (secret := _opened(kept.sealed)) is not None:
            return secret
    secret = pyotp.random_base32()
    shelf.set_person(user_id, factor=_seal().encrypt(secret.encode()).decode(), last_step=0)
    return secret


def address_of(secret: str, name: str, clinic: str) -> str:
    """What the picture to scan says: an ``otpauth://`` address."""
    return pyotp.TOTP(secret).provisioning_uri(name=name, issuer_name=f"Suffice {clinic}")


def confirm(user_id: int, name: str, code: str, *, now: datetime) -> tuple[str, ...]:
    """Take the new secret into use, once a code of it was right.

    Returns:
        The recovery codes; nothing else knows them.

    Raises:
        InputError: USER-005, USER-011.
    """
    _need_right(user_id, name, code, now=now, may_be_new=True)
    with repository.one_transaction():
        shelf.set_person(user_id, factor_from=now)
        note("factor.set", by=name, about=name)
        return _new_recovery_codes(user_id)


def renew_recovery_codes(user_id: int, name: str) -> tuple[str, ...]:
    """New recovery codes in the place of those before."""
    with repository.one_transaction():
        note("factor.renewed", by=name, about=name)
        return _new_recovery_codes(user_id)


def _new_recovery_codes(user_id: int) -> tuple[str, ...]:
    codes = tuple(_recovery_code() for _ in range(RECOVERY_COUNT))
    shelf.put_recovery_codes(user_id, [_digest(user_id, one) for one in codes])
    return codes


def need_right(user_id: int, name: str, code: str, *, now: datetime) -> None:
    """Refuse, unless this is a code of the person's device, or a recovery code, which is used up.

    Raises:
        InputError: USER-005, when too many were wrong; USER-011.
    """
    _need_right(user_id, name, code, now=now, may_be_new=False)


def remove(user_id: int, name: str, *, by: str) -> None:
    """Let a person sign in without a code again."""
    with repository.one_transaction():
        shelf.set_person(user_id, factor="", factor_from=None, last_step=0)
        shelf.put_recovery_codes(user_id, ())
        note("factor.removed", by=by, about=name)


def _need_right(user_id: int, name: str, code: str, *, now: datetime, may_be_new: bool) -> None:
    made = begin_code(name, now=now)
    kept = shelf.factor_of(user_id)
    typed = "".join(code.split()).replace("-", "").lower()
    if kept is not None and (may_be_new or kept.since is not None):
        is_right = _is_of_device(user_id, kept, typed, now=now)
        if not is_right and kept.since is not None:
            is_right = shelf.take_recovery_code(user_id, _digest(user_id, typed))
            if is_right:
                note("factor.recovery-used", by=name, about=name)
        if is_right:
            was_right(made)
            return
    raise InputError(_wrong())


def _is_of_device(user_id: int, kept: shelf.Factor, typed: str, *, now: datetime) -> bool:
    """Whether it is a code that was not taken yet; of two at once one is."""
    secret = _opened(kept.sealed)
    if secret is None or not (typed.isascii() and typed.isdecimal()):
        return False
    clock = pyotp.TOTP(secret, interval=STEP_S)
    present = int(now.timestamp()) // STEP_S
    for step in (present + one for one in AROUND):
        if hmac.compare_digest(clock.generate_otp(step), typed):
            return shelf.take_step(user_id, step)
    return False


def _seal() -> Fernet:
    key = HKDF(SHA256(), KEY_BYTES, salt=None, info=b"suffice second factor").derive(
        settings.SECRET_KEY.encode()
    )
    return Fernet(base64.urlsafe_b64encode(key))


def _opened(sealed: str) -> str | None:
    """The secret; None where the installation's key is another than when it was sealed."""
    try:
        return _seal().decrypt(sealed.encode()).decode()
    except InvalidToken:
        return None


def _recovery_code() -> str:
    """Eighty bits, in groups that can be read aloud."""
    text = base64.b32encode(secrets.token_bytes(RECOVERY_BYTES)).decode().lower()
    return "-".join(text[start : start + 4] for start in range(0, len(text), 4))


def _digest(user_id: int, code: str) -> str:
    """A code is drawn from so many that a plain digest tells nothing of it."""
    plain = code.replace("-", "")
    return hashlib.sha256(f"{user_id} {plain}".encode()).hexdigest()


def _wrong() -> Problem:
    return Problem(
        code="USER-011",
        what=message("This code is not right."),
        why=message("A code counts for about a minute, and once only."),
        fix=message(
            "Type the six digits that your device shows now, or one of your recovery codes."
        ),
        where="code",
    )


def _in_use() -> Problem:
    return Problem(
        code="USER-012",
        what=message("One-time codes are set up already."),
        why=message("A second device would make the first one useless."),
        fix=message("Take the codes away first, then set them up again."),
    )
