"""The tables of the record.

Family, Infant, Entry, Arrival and PolicyVersion only ever grow: triggers in the database itself
refuse UPDATE and DELETE (append_only.py), whoever asks. A long import writes its rows in many short
transactions, each row under the number of its arrival; `objects` shows them from the moment at
which that Arrival is there, all at once, and never if it never comes (arrival.py). `everything`
holds them from the first, for tests. CaseloadRow is different in kind: a cache that care
derives from the others and may overwrite or empty at any time; nothing in it is ever the only copy.
SignInTries and Job are no part of the record either: the first slows down whoever tries
passphrases, the second says how far a piece of work is.

Erasure grows as well: each of its rows says that a family was erased, and lets its rows be deleted.

Link, Seal and TrailEvent grow too: each row of an append-only table is in one link of a hash chain
(chain.py), and a seal holds the heads of all chains of its day (seal.py). ChainHead counts along;
Damage and Verification are what the latest check of the chains came to (verify.py).

No clinical rule lives here, and only repository.py turns rows into the domain's types.
"""

# ruff: noqa: D106 -- Meta is Django's
from __future__ import annotations

from typing import TypeVar

from django.db import models

from suffice.record.team_models import (
    EmergencyAccess,
    Member,
    OneTimeLink,
    OutsideAccount,
    Passkey,
    Person,
    Placement,
    RecoveryCode,
    Team,
)

__all__ = [
    "Arrival",
    "CaseloadRow",
    "EmergencyAccess",
    "Entry",
    "Family",
    "Infant",
    "Job",
    "Member",
    "OneTimeLink",
    "OutsideAccount",
    "Passkey",
    "Person",
    "Placement",
    "PolicyVersion",
    "RecoveryCode",
    "SignInTries",
    "Team",
]

_Row = TypeVar("_Row", bound=models.Model)


class Arrival(models.Model):
    """An import whose rows have all been written: since this row is there, they are on the record.

    `number` is that of the job which wrote them; numbers of jobs never come twice. `brought_by` is
    the user who imported them, whoever the file names as their author; empty where it was not kept.
    """

    number = models.BigIntegerField(primary_key=True)
    arrived_at = models.DateTimeField()
    brought_by = models.TextField(default="")
    opened_count = models.PositiveIntegerField()
    entry_count = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"arrival {self.number}"


class _OnRecord(models.Manager[_Row]):
    """The rows that are on the record: written by themselves, or by an import that has arrived."""

    def get_queryset(self) -> models.QuerySet[_Row]:
        """Without rows of an import that is still under way, or that ended before it arrived."""
        arrived = models.Q(arrival__in=Arrival.objects.values("number"))
        return super().get_queryset().filter(models.Q(arrival__isnull=True) | arrived)


class Family(models.Model):
    """One lactating parent and one or more infants."""

    id = models.UUIDField(primary_key=True)
    opened_at = models.DateTimeField()
    opened_by = models.TextField()
    arrival = models.BigIntegerField(null=True)

    objects = _OnRecord["Family"]()
    everything = models.Manager["Family"]()

    class Meta:
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return f"family {self.id}"


class Infant(models.Model):
    """An infant of a family; `position` 1 is the first-born."""

    id = models.UUIDField(primary_key=True)
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="infants")
    position = models.PositiveSmallIntegerField()
    arrival = models.BigIntegerField(null=True)

    objects = _OnRecord["Infant"]()
    everything = models.Manager["Infant"]()

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
    arrival = models.BigIntegerField(null=True)

    objects = _OnRecord["Entry"]()
    everything = models.Manager["Entry"]()

    class Meta:
        verbose_name_plural = "entries"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(basis__in=["measured", "observed", "reported"]),
                name="basis_is_known",
            ),
        ]
        indexes = [
            models.Index(fields=["family", "seq"], name="entries_of_family"),
            # For the list of the families that somebody entered something for.
            models.Index(fields=["entered_by", "family", "entered_at"], name="entries_of_person"),
            # Both for taking away what an import wrote that will not arrive.
            models.Index(fields=["infant"], name="entries_of_infant"),
            models.Index(
                fields=["arrival"],
                name="entries_of_arrival",
                condition=models.Q(arrival__isnull=False),
            ),
        ]

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


class TrailEvent(models.Model):
    """Something that somebody did or saw: a page of a family, a sign-in, an export; see trail.py.

    It names families and entries by their ids and holds nothing else about them. `who` is the name
    that a person signs in with; empty where nobody was signed in.
    """

    seq = models.BigAutoField(primary_key=True)
    id = models.UUIDField(unique=True)
    at = models.DateTimeField(db_index=True)
    who = models.TextField()
    act = models.TextField()
    page = models.TextField()
    method = models.TextField()
    status = models.PositiveSmallIntegerField()
    family_id = models.UUIDField(null=True)
    about = models.TextField()
    why = models.TextField()
    address = models.TextField()

    class Meta:
        indexes = [
            models.Index(fields=["family_id", "seq"], name="events_of_family"),
            models.Index(fields=["who", "seq"], name="events_of_person"),
        ]

    def __str__(self) -> str:
        return f"{self.act} {self.seq}"


class Link(models.Model):
    """A link of a hash chain: rows that were appended together, and the hash that binds them.

    `rows` is a JSON list of (form, key, digest), `hash` binds it to the link before; chain.py says
    how both are made. A link of an import has its number, and goes with its rows if it never arrives.
    """

    seq = models.BigAutoField(primary_key=True)
    chain = models.TextField()
    number = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    rows = models.TextField()
    hash = models.TextField()
    arrival = models.BigIntegerField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["chain", "number"], name="one_link_per_place"),
        ]
        indexes = [
            models.Index(
                fields=["arrival"],
                name="links_of_arrival",
                condition=models.Q(arrival__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"link {self.number} of {self.chain}"


class ChainHead(models.Model):
    """Where a chain ends: counted along with it, so that a chain that was cut short is noticed."""

    chain = models.TextField(primary_key=True)
    number = models.PositiveIntegerField()
    hash = models.TextField()
    sealed_number = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.chain} up to {self.number}"


class Seal(models.Model):
    """The heads of the chains that grew since the seal before, as a JSON list of (chain, number, hash)."""

    number = models.BigAutoField(primary_key=True)
    day = models.DateField()
    heads = models.TextField()

    def __str__(self) -> str:
        return f"seal {self.number} of {self.day}"


class ErasureRequest(models.Model):
    """Somebody asks that a family be erased; gone once another person has confirmed or refused it."""

    family = models.OneToOneField(
        Family, on_delete=models.PROTECT, primary_key=True, related_name="+"
    )
    asked_at = models.DateTimeField()
    asked_by = models.TextField()
    why = models.TextField()

    def __str__(self) -> str:
        return f"request to erase {self.family_id}"


class Erasure(models.Model):
    """A family was erased: all that is left of it, with where its chain ended.

    `family_id` names no row any more. `why` is a word of ours, never what somebody typed.
    """

    number = models.BigAutoField(primary_key=True)
    family_id = models.UUIDField(unique=True)
    asked_at = models.DateTimeField()
    asked_by = models.TextField()
    why = models.TextField()
    erased_at = models.DateTimeField()
    erased_by = models.TextField()
    entry_count = models.PositiveIntegerField()
    chain_number = models.PositiveIntegerField()
    chain_hash = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(asked_by=models.F("erased_by")), name="erased_by_two_people"
            ),
        ]

    def __str__(self) -> str:
        return f"erasure of {self.family_id}"


class Damage(models.Model):
    """Something that the latest whole check found wrong; no part of the record.

    `family_id` is the family whose record it is in; None for what concerns no single family.
    """

    number = models.BigAutoField(primary_key=True)
    code = models.TextField()
    family_id = models.UUIDField(null=True, db_index=True)
    form = models.TextField()
    key = models.TextField()

    class Meta:
        verbose_name_plural = "damage"

    def __str__(self) -> str:
        return f"{self.code} {self.form} {self.key}"


class Verification(models.Model):
    """That the chains were checked, and what it came to; no part of the record."""

    number = models.BigAutoField(primary_key=True)
    began_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField()
    link_count = models.PositiveIntegerField()
    row_count = models.PositiveIntegerField()
    damage_count = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"verification of {self.began_at:%Y-%m-%dT%H:%MZ}: {self.damage_count}"


class CaseloadRow(models.Model):
    """What care last computed for a family: derived, never truth; the caseload reads and sorts it.

    It holds as long as `record_seq` is still the newest entry of the family, the versions are
    those in use and `valid_until` lies ahead.
    """

    family = models.OneToOneField(
        Family, on_delete=models.PROTECT, primary_key=True, related_name="caseload_row"
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
    order_7 = models.FloatField(default=0.0)
    order_8 = models.FloatField(default=0.0)
    reason = models.TextField()
    payload = models.TextField()

    class Meta:
        db_table = "record_standing"  # Named before the model was; renaming it would gain nothing.

    def __str__(self) -> str:
        return f"caseload row of {self.family_id} as of {self.as_of:%Y-%m-%dT%H:%MZ}"


class SignInTries(models.Model):
    """How many wrong passphrases came for an account or from an address; may be emptied any time."""

    key = models.TextField(primary_key=True)
    wrong_count = models.PositiveIntegerField()
    last_at = models.DateTimeField(db_index=True)

    class Meta:
        verbose_name_plural = "sign-in tries"

    def __str__(self) -> str:
        return f"{self.wrong_count} wrong tries until {self.last_at:%Y-%m-%dT%H:%MZ}"


class Job(models.Model):
    """A piece of work that goes on after the answer: how far it is, or how it ended.

    `id` is that under which it can be seen; work that is tried again is another job of the same id.
    `slot` is filled while the job, or what it left behind, keeps others of its kind waiting.
    """

    number = models.BigAutoField(primary_key=True)
    id = models.UUIDField(db_index=True)
    kind = models.TextField()
    state = models.TextField()
    stage = models.TextField(default="")
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    started_by = models.TextField()
    asked_at = models.DateTimeField()
    alive_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField(null=True)
    is_cancel_asked = models.BooleanField(default=False)
    slot = models.TextField(null=True, unique=True)  # noqa: DJ001 -- many may hold none
    incident = models.TextField(default="")
    result = models.TextField(default="")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(
                    state__in=["waiting", "running", "done", "failed", "cancelled", "interrupted"]
                ),
                name="job_state_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}: {self.state}"
