"""The tables of the people: teams and who belongs to them, whose a family is, how people sign in.

None of them holds a clinical fact. A family keeps its row for ever; which team it belongs to is the
newest of its placements, and the first team where it has none.
"""

# ruff: noqa: D106 -- Meta is Django's
from __future__ import annotations

from django.conf import settings
from django.db import models

USER = settings.AUTH_USER_MODEL


class Team(models.Model):
    """People who look after the same families."""

    id = models.UUIDField(primary_key=True)
    name = models.TextField(unique=True)
    opened_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"team {self.id}"


class Member(models.Model):
    """A person of a team, with the role in it."""

    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="members")
    user = models.ForeignKey(USER, on_delete=models.CASCADE, related_name="+")
    role = models.TextField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "user"], name="one_role_in_a_team"),
            models.CheckConstraint(
                condition=models.Q(role__in=["reader", "consultant", "lead"]),
                name="team_role_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.user_id} of {self.team_id}"


class Person(models.Model):
    """What is known of a user besides name and passphrase; who has no row has the defaults.

    `factor` is the sealed secret of the one-time codes, in use from `factor_from` on; `last_step` is
    the time step of the last code that was taken, so that none is taken twice.
    """

    user = models.OneToOneField(
        USER, on_delete=models.CASCADE, primary_key=True, related_name="person"
    )
    profession = models.TextField(default="")
    is_auditor = models.BooleanField(default=False)
    factor = models.TextField(default="")
    factor_from = models.DateTimeField(null=True)
    last_step = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"person {self.user_id}"


class RecoveryCode(models.Model):
    """A code that stands in for a one-time code, once; kept as a digest."""

    user = models.ForeignKey(USER, on_delete=models.CASCADE, related_name="+")
    digest = models.TextField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "digest"], name="no_recovery_code_twice"),
        ]

    def __str__(self) -> str:
        return f"recovery code of {self.user_id}"


class Passkey(models.Model):
    """The public half of a key on a person's device; `count` is what the device counted last."""

    id = models.UUIDField(primary_key=True)
    user = models.ForeignKey(USER, on_delete=models.CASCADE, related_name="+")
    credential_id = models.TextField(unique=True)
    credential = models.TextField()
    called = models.TextField()
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    count = models.BigIntegerField(default=0)

    def __str__(self) -> str:
        return f"passkey of {self.user_id}"


class OutsideAccount(models.Model):
    """With which account at an identity provider a person signs in; `mail` until the subject is known."""

    user = models.OneToOneField(USER, on_delete=models.CASCADE, primary_key=True, related_name="+")
    issuer = models.TextField()
    subject = models.TextField(default="")
    mail = models.TextField(default="")
    linked_at = models.DateTimeField()
    linked_by = models.TextField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["issuer", "subject", "mail"], name="one_person_for_an_outside_account"
            ),
        ]

    def __str__(self) -> str:
        return f"outside account of {self.user_id}"


class OneTimeLink(models.Model):
    """Lets a person choose a passphrase, once and for a while; its token is kept as a digest."""

    digest = models.TextField(primary_key=True)
    user = models.OneToOneField(USER, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField()
    made_by = models.TextField()
    until = models.DateTimeField()

    def __str__(self) -> str:
        return f"one-time link of {self.user_id}"


class Placement(models.Model):
    """To which team a family belongs from a moment on, and to whom in it, if to one.

    The one with the largest number counts. `arrival` is that of the import which opened the family.
    """

    number = models.BigAutoField(primary_key=True)
    family = models.ForeignKey(
        "record.Family", on_delete=models.PROTECT, related_name="placements", db_index=False
    )
    team = models.ForeignKey(Team, on_delete=models.PROTECT, related_name="placements")
    colleague = models.ForeignKey(USER, on_delete=models.PROTECT, null=True, related_name="+")
    placed_at = models.DateTimeField()
    placed_by = models.TextField()
    note = models.TextField(default="")
    arrival = models.BigIntegerField(null=True)

    class Meta:
        indexes = [
            models.Index(fields=["family", "-number"], name="placements_of_family"),
            models.Index(
                fields=["arrival"],
                name="placements_of_arrival",
                condition=models.Q(arrival__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"placement {self.number}"


class EmergencyAccess(models.Model):
    """A person opened a family of another team, said why, and may see it for a while."""

    number = models.BigAutoField(primary_key=True)
    family = models.ForeignKey("record.Family", on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(USER, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    begun_at = models.DateTimeField()
    until = models.DateTimeField()
    seen_at = models.DateTimeField(null=True)
    seen_by = models.TextField(default="")

    def __str__(self) -> str:
        return f"emergency access {self.number}"
