"""Accounts at an identity provider, as they are linked to the people of the clinic."""

from __future__ import annotations

from datetime import datetime

from suffice.record import models
from suffice.record.repository import one_transaction


def put_outside(
    user_id: int, *, issuer: str, subject: str, mail: str, now: datetime, by: str
) -> bool:
    """Link a person to an account in the place of the one before; False where another person is.

    Without a subject and without an address the person is linked to none any more.
    """
    rows = models.OutsideAccount.objects
    with one_transaction():
        same = rows.filter(issuer=issuer, subject=subject, mail=mail).exclude(user_id=user_id)
        if (subject or mail) and same.exists():
            return False
        rows.filter(user_id=user_id).delete()
        if subject or mail:
            rows.create(
                user_id=user_id,
                issuer=issuer,
                subject=subject,
                mail=mail,
                linked_at=now,
                linked_by=by,
            )
    return True


def outside_of(issuer: str, *, subject: str) -> int | None:
    """The person who is linked to a subject; None where nobody is."""
    found = models.OutsideAccount.objects.filter(issuer=issuer, subject=subject)
    return found.values_list("user_id", flat=True).first()


def take_outside(issuer: str, *, mail: str, subject: str) -> int | None:
    """The person who is linked to an address, from now on to this subject; None where nobody is."""
    with one_transaction():
        waiting = models.OutsideAccount.objects.select_for_update()
        row = waiting.filter(issuer=issuer, mail=mail, subject="").first()
        if row is None:
            return None
        row.subject, row.mail = subject, ""
        row.save(update_fields=["subject", "mail"])
    return row.user_id


def outside_kept(user_id: int) -> str:
    """The subject or the address to which a person is linked; empty for none."""
    row = models.OutsideAccount.objects.filter(user_id=user_id).first()
    return "" if row is None else row.subject or row.mail
