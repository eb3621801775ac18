"""The tables of the record.

Family, Infant, Entry and PolicyVersion only ever grow: triggers in the database itself refuse
UPDATE and DELETE (append_only.py), whoever asks. Standing is different in kind: a cache that care
derives from the others and may overwrite or empty at any time; nothing in it is ever the only copy.
SignInTries is no part of the record either: it slows down whoever tries passphrases.

No clinical rule lives here, and only repository.py turns rows into the domain's types.
"""

# ruff: noqa: D106 -- Meta is Django's
from __future__ import annotations

from django.db import models


class Family(models.Model):
    """One lactating parent and one or more infants."""

    id = models.UUIDField(primary_key=True)
    opened_at = models.DateTimeField()
    opened_by = models.TextField()

    class Meta:
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return f"family {self.id}"


class Infant(models.Model):
    """An infant of a family; `position` 1 is the first-born."""

    id = models.UUIDField(primary_key=True)
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="infants")
    position = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["family", "position"], name="one_infant_per_position"),
            models.CheckConstraint(condition=models.Q(position__gte=1), name="position_from_one"),
        ]

    def __str__(self) -> str:
        return f"infant {self.position} of {self.family_id}"


class Entry(models.Model):
    """One observed fact, as clinical.entry.Entry tells it.

    `seq` numbers the entries in the order in which they were stored: within one family a later
    commit never has a smaller number, so that the largest one dates whatever was derived from it.
    """

    seq = models.BigAutoField(primary_key=True)
    id = models.UUIDField(unique=True)
    family = models.ForeignKey(
        Family, on_delete=models.PROTECT, related_name="entries", db_index=False
    )
    infant = models.ForeignKey(
        Infant, on_delete=models.PROTECT, related_name="entries", null=True, db_index=False
    )
    kind = models.TextField()
    basis = models.TextField()
    true_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    entered_by = models.TextField()
    device = models.TextField(null=True)  # noqa: DJ001 -- missing is 'not asked', not an empty name
    replaces = models.OneToOneField(
        "self",
        to_field="id",
        db_column="replaces",
        on_delete=models.PROTECT,
        related_name="replaced_by",
        null=True,
    )
    fact = models.JSONField()

    class Meta:
        verbose_name_plural = "entries"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(basis__in=["measured", "observed", "reported"]),
                name="basis_is_known",
            ),
        ]
        indexes = [models.Index(fields=["family", "seq"], name="entries_of_family")]

    def __str__(self) -> str:
        return f"{self.kind} {self.id}"


class PolicyVersion(models.Model):
    """One version of the clinic's policy; the newest `number` is in force."""

    number = models.BigAutoField(primary_key=True)
    id = models.UUIDField(unique=True)
    entered_at = models.DateTimeField()
    entered_by = models.TextField()
    policy = models.JSONField()

    def __str__(self) -> str:
        return f"policy {self.number}"


class Standing(models.Model):
    """What care last computed for a family: derived, never truth; the caseload reads and sorts it.

    It holds as long as `record_seq` is still the newest entry of the family, the versions are
    those in use and `valid_until` lies ahead.
    """

    family = models.OneToOneField(
        Family, on_delete=models.PROTECT, primary_key=True, related_name="standing"
    )
    record_seq = models.BigIntegerField()
    content_version = models.TextField()
    engine_version = models.TextField()
    policy_version = models.BigIntegerField()
    as_of = models.DateTimeField()
    valid_until = models.DateTimeField()
    discharged = models.BooleanField()
    tier = models.SmallIntegerField()
    order_1 = models.FloatField()
    order_2 = models.FloatField()
    order_3 = models.FloatField()
    order_4 = models.FloatField()
    order_5 = models.FloatField()
    order_6 = models.FloatField()
    reason = models.TextField()
    payload = models.TextField()

    def __str__(self) -> str:
        return f"standing of {self.family_id} as of {self.as_of:%Y-%m-%dT%H:%MZ}"


class SignInTries(models.Model):
    """How many wrong passphrases came for an account or from an address; may be emptied any time."""

    key = models.TextField(primary_key=True)
    wrong_count = models.PositiveIntegerField()
    last_at = models.DateTimeField(db_index=True)

    class Meta:
        verbose_name_plural = "sign-in tries"

    def __str__(self) -> str:
        return f"{self.wrong_count} wrong tries until {self.last_at:%Y-%m-%dT%H:%MZ}"
