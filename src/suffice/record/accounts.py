"""Accounts as they are kept beside Django's own: professions, duties, one-time links, second factors."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import datetime
from uuid import UUID, uuid4

import msgspec
from django.contrib.auth import get_user_model
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session

from suffice.record import models
from suffice.record.repository import one_transaction


class Account(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody who can sign in, or could.

    Attributes:
        name: The name that the person signs in with.
        called: The person's own name; empty where none was entered.
        is_active: Whether the person may sign in.
        has_passphrase: False while a one-time link waits to be used.
        link_until: Until when a one-time link can be used; None where there is none.
        has_factor: Whether signing in asks for a one-time code too.
        passkey_count: How many passkeys the person has.
    """

    id: int
    name: str
    called: str
    profession: str
    is_active: bool
    is_administrator: bool
    is_auditor: bool
    has_passphrase: bool
    has_factor: bool
    passkey_count: int
    link_until: datetime | None
    last_login: datetime | None


class Factor(msgspec.Struct, frozen=True, kw_only=True):
    """The second factor of a person: the sealed secret, since when it is in use, its last time step."""

    sealed: str
    since: datetime | None
    last_step: int


class Passkey(msgspec.Struct, frozen=True, kw_only=True):
    """A passkey of a person, as it is kept; ids and keys in unpadded base64."""

    id: UUID
    user_id: int
    credential: str
    called: str
    made_at: datetime
    used_at: datetime | None


def accounts() -> tuple[Account, ...]:
    """Everybody who was ever let in, by name; five queries."""
    persons = {one.user_id: one for one in models.Person.objects.all()}
    links = dict(models.OneTimeLink.objects.values_list("user_id", "until"))
    passkeys = Counter(models.Passkey.objects.values_list("user_id", flat=True))
    users = get_user_model().objects.order_by("-is_active", "username")
    return tuple(
        Account(
            id=one.pk,
            name=one.get_username(),
            called=one.get_full_name(),
            profession=persons[one.pk].profession if one.pk in persons else "",
            is_active=one.is_active,
            is_administrator=one.is_staff,
            is_auditor=one.pk in persons and persons[one.pk].is_auditor,
            has_passphrase=one.has_usable_password(),
            has_factor=one.pk in persons and persons[one.pk].factor_from is not None,
            passkey_count=passkeys[one.pk],
            link_until=links.get(one.pk),
            last_login=one.last_login,
        )
        for one in users
    )


def set_person(user_id: int, **fields: object) -> None:
    """Change what is kept of a person: `profession`, `is_auditor`, `factor`, `factor_from`, `last_step`."""
    with one_transaction():
        models.Person.objects.update_or_create(user_id=user_id, defaults=fields)


def administrators() -> tuple[int, ...]:
    """Who may sign in and looks after the accounts; the rows are held until the transaction ends."""
    users = get_user_model().objects.select_for_update().filter(is_staff=True, is_active=True)
    return tuple(users.values_list("pk", flat=True))


# --- one-time links ---------------------------------------------------------------------------


def put_link(digest: str, user_id: int, *, now: datetime, by: str, until: datetime) -> None:
    """Keep a one-time link of a person in the place of the one before."""
    with one_transaction():
        models.OneTimeLink.objects.filter(user_id=user_id).delete()
        models.OneTimeLink.objects.create(
            digest=digest, user_id=user_id, made_at=now, made_by=by, until=until
        )


def user_of_link(digest: str, *, now: datetime) -> str | None:
    """The name of the person whose link it is; None for one that was used, has run out, or never was."""
    found = models.OneTimeLink.objects.filter(digest=digest, until__gt=now, user__is_active=True)
    return found.values_list("user__username", flat=True).first()


def take_link(digest: str, *, now: datetime) -> int | None:
    """Use a link up: the number of its user, or None where it cannot be used; one taker only."""
    with one_transaction():
        rows = models.OneTimeLink.objects.select_for_update()
        found = rows.filter(digest=digest, until__gt=now, user__is_active=True).first()
        if found is None:
            return None
        found.delete()
    return found.user_id


def drop_links(user_id: int) -> None:
    """Let no one-time link of a person be used any more."""
    with one_transaction():
        models.OneTimeLink.objects.filter(user_id=user_id).delete()


# --- sessions ---------------------------------------------------------------------------------


def end_sessions(user_id: int, *, but: str = "") -> int:
    """End every session of a person, whatever device it is on, but for one; how many they were.

    A request that is under way cannot bring its session back: Django updates a session only as long
    as it is there.
    """
    store, ended = SessionStore(), []
    for key, data in Session.objects.values_list("session_key", "session_data"):
        if key != but and store.decode(data).get("_auth_user_id") == str(user_id):
            ended.append(key)
    with one_transaction():
        Session.objects.filter(session_key__in=ended).delete()
    return len(ended)


def forget_in_sessions(name: str) -> None:
    """Let every session forget what it keeps under a name."""
    for session in Session.objects.all():
        kept = SessionStore(session.session_key).decode(session.session_data)
        if kept.pop(name, None) is not None:
            session.session_data = SessionStore().encode(kept)
            with one_transaction():
                session.save(update_fields=["session_data"])


# --- second factors ---------------------------------------------------------------------------


def factor_of(user_id: int) -> Factor | None:
    """The second factor of a person, begun or in use; None where there is none."""
    row = models.Person.objects.filter(user_id=user_id).exclude(factor="").first()
    if row is None:
        return None
    return Factor(sealed=row.factor, since=row.factor_from, last_step=row.last_step)


def has_factor(user_id: int) -> bool:
    """Whether a person has a second factor in use: one-time codes, or a passkey."""
    return has_codes(user_id) or models.Passkey.objects.filter(user_id=user_id).exists()


def has_codes(user_id: int) -> bool:
    """Whether a person's one-time codes are in use."""
    return models.Person.objects.filter(user_id=user_id, factor_from__isnull=False).exists()


def take_step(user_id: int, step: int) -> bool:
    """Note the time step of a code that was right; False where it, or a later one, was taken before."""
    with one_transaction():
        rows = models.Person.objects.filter(user_id=user_id, last_step__lt=step)
        return bool(rows.update(last_step=step))


def put_recovery_codes(user_id: int, digests: Collection[str]) -> None:
    """Keep recovery codes in the place of those before."""
    with one_transaction():
        models.RecoveryCode.objects.filter(user_id=user_id).delete()
        models.RecoveryCode.objects.bulk_create(
            models.RecoveryCode(user_id=user_id, digest=one) for one in digests
        )


def take_recovery_code(user_id: int, digest: str) -> bool:
    """Use a recovery code up; False where there is no such code any more."""
    with one_transaction():
        gone, _ = models.RecoveryCode.objects.filter(user_id=user_id, digest=digest).delete()
    return bool(gone)


def recovery_codes_left(user_id: int) -> int:
    """How many recovery codes a person has left."""
    return models.RecoveryCode.objects.filter(user_id=user_id).count()


# --- passkeys ---------------------------------------------------------------------------------


def passkeys_of(user_id: int) -> tuple[Passkey, ...]:
    """The passkeys of a person, the oldest first."""
    rows = models.Passkey.objects.filter(user_id=user_id).order_by("made_at")
    return tuple(_passkey(row) for row in rows)


def passkey(credential_id: str) -> Passkey | None:
    """A passkey by what its device calls it, of somebody who may sign in."""
    row = models.Passkey.objects.filter(credential_id=credential_id, user__is_active=True).first()
    return None if row is None else _passkey(row)


def put_passkey(
    user_id: int, *, credential_id: str, credential: str, called: str, count: int, now: datetime
) -> bool:
    """Keep a new passkey; False where it is there already."""
    with one_transaction():
        if models.Passkey.objects.filter(credential_id=credential_id).exists():
            return False
        models.Passkey.objects.create(
            id=uuid4(),
            user_id=user_id,
            credential_id=credential_id,
            credential=credential,
            called=called,
            made_at=now,
            count=count,
        )
    return True


def use_passkey(passkey_id: UUID, *, count: int, now: datetime) -> bool:
    """Note that a passkey was used; False where its device counted as much, or more, before.

    A device that does not count says 0 each time.
    """
    with one_transaction():
        rows = models.Passkey.objects.filter(id=passkey_id)
        rows = rows.filter(count__lt=count) if count else rows.filter(count=0)
        return bool(rows.update(count=count, used_at=now))


def rename_passkey(user_id: int, passkey_id: UUID, called: str) -> None:
    """Call a passkey of a person otherwise."""
    with one_transaction():
        models.Passkey.objects.filter(user_id=user_id, id=passkey_id).update(called=called)


def drop_passkeys(user_id: int, passkey_id: UUID | None) -> int:
    """Remove a passkey of a person, or all; how many."""
    rows = models.Passkey.objects.filter(user_id=user_id)
    with one_transaction():
        gone, _each = (rows if passkey_id is None else rows.filter(id=passkey_id)).delete()
    return gone


def _passkey(row: models.Passkey) -> Passkey:
    return Passkey(
        id=row.id,
        user_id=row.user_id,
        credential=row.credential,
        called=row.called,
        made_at=row.made_at,
        used_at=row.used_at,
    )
