"""Hash chains over every append-only table: what was stored cannot be changed unnoticed.

Each row is named in one link: by its form, its key and the digest of its content. A link is bound to
the one before it by its hash, and counted by the head of its chain. The rows of a family make one chain,
in the order in which they were stored; those of an import make one of their own, because they come
onto the record, or go, together; policies, arrivals, erasures, the trail and the seals have one each::

    digest = SHA-256 of [form, value, value, ...]
    hash   = SHA-256 of [chain, number, made_at, hash before, [[form, key, digest], ...]]
             (in a link of an import, [family] stands before the rows of each family)

both of compact JSON in UTF-8, in unpadded base64. Values are the same on either engine: an id as 32
hexadecimal digits, an instant in UTC to the microsecond, every number in a JSON column as a float (-0.0 as 0.0),
its names in order.

A link is written in the transaction that stores its rows. Only rows written elsewhere, or changed in
the file or on the server, have none, or another digest; record/verify.py finds them.
"""
# ruff: noqa: SLF001 -- _meta is Django's documented way to ask a model for its columns

from __future__ import annotations

import json
from base64 import urlsafe_b64encode
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from functools import cache
from hashlib import sha256
from typing import Any
from uuid import UUID

import msgspec
from django.db.models import Field, ForeignKey, Model
from django.utils import timezone

from suffice.record import clock, models

POLICY, ARRIVALS, TRAIL, SEALS = "policy", "arrivals", "trail", "seals"
ERASURES = "erasures"


class Form(msgspec.Struct, frozen=True, kw_only=True):
    """What of a row its digest is made of.

    A column that is added to a table later makes another form of it, under another name; rows of
    the earlier form keep their digests.

    Attributes:
        table: The table.
        key: The column that names a row.
        columns: Those in the digest, in this order.
        family: The column that names the family that the row is about; None where there is none.
    """

    table: str
    key: str
    columns: tuple[str, ...]
    family: str | None = None


FORMS = {
    "family": Form(
        table="record_family",
        key="id",
        columns=("id", "opened_at", "opened_by", "arrival"),
        family="id",
    ),
    "infant": Form(
        table="record_infant",
        key="id",
        columns=("id", "family_id", "position", "arrival"),
        family="family_id",
    ),
    "entry": Form(
        table="record_entry",
        key="id",
        columns=(
            "seq",
            "id",
            "family_id",
            "infant_id",
            "kind",
            "basis",
            "true_at",
            "entered_at",
            "entered_by",
            "device",
            "replaces",
            "fact",
            "arrival",
        ),
        family="family_id",
    ),
    "placement": Form(
        table="record_placement",
        key="number",
        columns=(
            "number",
            "family_id",
            "team_id",
            "colleague_id",
            "placed_at",
            "placed_by",
            "note",
            "arrival",
        ),
        family="family_id",
    ),
    "policy": Form(
        table="record_policyversion",
        key="id",
        columns=("number", "id", "entered_at", "entered_by", "policy"),
    ),
    "arrival": Form(
        table="record_arrival",
        key="number",
        columns=("number", "arrived_at", "brought_by", "opened_count", "entry_count"),
    ),
    "erasure": Form(
        table="record_erasure",
        key="family_id",
        columns=(
            "number",
            "family_id",
            "asked_at",
            "asked_by",
            "why",
            "erased_at",
            "erased_by",
            "entry_count",
            "chain_number",
            "chain_hash",
        ),
    ),
    "seal": Form(table="record_seal", key="number", columns=("number", "day", "heads")),
    "event": Form(
        table="record_trailevent",
        key="id",
        columns=(
            "seq",
            "id",
            "at",
            "who",
            "act",
            "page",
            "method",
            "status",
            "family_id",
            "about",
            "why",
            "address",
        ),
    ),
}
"""Every form, the newest of each table last."""

Named = Sequence[str]
"""Form, key and digest of a row; or, in a link of an import, the family of the rows that follow."""


def _number(text: str) -> float:
    """A number; adding 0.0 takes the sign from -0.0, which PostgreSQL does not keep."""
    return float(text) + 0.0


# Made once: making them takes longer than most of what they do.
_encoder = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"))
_decoder = json.JSONDecoder(parse_int=_number, parse_float=_number)


def compact(value: object) -> str:
    """JSON without spaces, names in order; the same for equal values."""
    return _encoder.encode(value)


def hashed(value: object) -> str:
    """The SHA-256 of a value's compact JSON, in unpadded base64."""
    digest = sha256(compact(value).encode()).digest()
    return urlsafe_b64encode(digest).rstrip(b"=").decode()


def link_hash(
    chain: str, number: int, made_at: datetime | str, before: str, rows: Sequence[Named]
) -> str:
    """The hash of a link; `before` is that of the link before it, empty for the first."""
    return hashed([chain, number, canonical_instant(made_at), before, rows])


def canonical_instant(value: datetime | str) -> str:
    """An instant as a digest has it; either engine's text of it, or the instant itself."""
    read = datetime.fromisoformat(value) if isinstance(value, str) else value
    if read.tzinfo is not None:
        read = read.astimezone(UTC).replace(tzinfo=None)
    return read.isoformat(timespec="microseconds")


def canonical_id(value: UUID | str) -> str:
    """An id as a digest has it."""
    return value.hex if isinstance(value, UUID) else value.replace("-", "").lower()


def canonical_json(value: Any) -> Any:
    """The content of a JSON column as a digest has it: 3280 and 3280.0 are one number."""
    return _decoder.decode(value if isinstance(value, str) else _encoder.encode(value))


def _canonical_day(value: date | str) -> str:
    return value if isinstance(value, str) else value.isoformat()


Say = Callable[[Any], Any]
_CANONICAL: dict[str, Say] = {
    "DateTimeField": canonical_instant,
    "UUIDField": canonical_id,
    "JSONField": canonical_json,
    "DateField": _canonical_day,
}


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """A column of a form: its name in the table and in the model, how it is said, if not as it is."""

    name: str
    attribute: str
    say: Say | None


@cache
def columns_of(form: str) -> tuple[Column, ...]:
    """The columns of a form, in its order."""
    fields = {field.column: field for field in _model_of(FORMS[form].table)._meta.concrete_fields}
    return tuple(
        Column(
            name=name, attribute=fields[name].attname, say=_CANONICAL.get(_type_of(fields[name]))
        )
        for name in FORMS[form].columns
    )


def _type_of(field: Field[Any, Any]) -> str:
    target = field.target_field if isinstance(field, ForeignKey) else field
    return target.get_internal_type()


@cache
def _model_of(table: str) -> type[Model]:
    every = (models.Family, models.Infant, models.Entry, models.PolicyVersion, models.Arrival)
    later = (models.Placement, models.Erasure, models.Seal, models.TrailEvent)
    ours: tuple[type[Model], ...] = (*every, *later)
    return next(one for one in ours if one._meta.db_table == table)


@cache
def _form_of(table: str) -> str:
    return [name for name, form in FORMS.items() if form.table == table][-1]


def digest_of(form: str, values: Sequence[Any]) -> str:
    """The digest of a row from its values, as an engine or a model has them."""
    parts = [
        value if value is None or column.say is None else column.say(value)
        for column, value in zip(columns_of(form), values, strict=True)
    ]
    return hashed([form, *parts])


def named(row: Model) -> Named:
    """A row that is stored, by its form, key and digest."""
    form = _form_of(row._meta.db_table)
    columns = columns_of(form)
    values = [getattr(row, column.attribute) for column in columns]
    return [form, key_of(form, values), digest_of(form, values)]


def key_of(form: str, values: Sequence[Any]) -> str:
    """What names a row among those of its form."""
    place = FORMS[form].columns.index(FORMS[form].key)
    value, say = values[place], columns_of(form)[place].say
    return str(say(value) if say else value)


def of_import(number: int) -> str:
    """The chain of the rows of an import."""
    return f"import {number}"


def extend(chain: str, rows: Sequence[Model], *, arrival: int | None = None) -> None:
    """Bind rows that were stored a moment ago in one link, within the caller's transaction.

    Args:
        chain: The chain: the id of a family in hexadecimal digits, or one of the names above.
        rows: The rows, with the numbers that the database has given them.
        arrival: The import that they are of; its rows are bound to :func:`of_import`.
    """
    if not rows:
        return
    names: list[Named] = []
    family = None
    for row in rows:
        of = _family_of(row) if arrival is not None else None
        if of != family:
            family = of
            names.append([family] if family else [])
        names.append(named(row))
    bind(chain, names, arrival=arrival)


def bind(chain: str, names: Sequence[Named], *, arrival: int | None = None) -> None:
    """The same, of rows whose names and digests are known."""
    head, made_at = _head(chain), timezone.now()
    clock.notice(made_at)
    head.number += 1
    head.hash = link_hash(chain, head.number, made_at, head.hash, names)
    models.Link.objects.create(
        chain=chain,
        number=head.number,
        made_at=made_at,
        rows=compact(names),
        hash=head.hash,
        arrival=arrival,
    )
    head.save(update_fields=["number", "hash"])


def _family_of(row: Model) -> str | None:
    column = FORMS[_form_of(row._meta.db_table)].family
    return None if column is None else canonical_id(getattr(row, column))


def _head(chain: str) -> models.ChainHead:
    """The head of a chain, taken so that its writers wait for one another."""
    taken = models.ChainHead.objects.select_for_update().filter(chain=chain)
    if (head := taken.first()) is not None:
        return head
    # Two may begin a chain at once: the second finds the first's.
    first = models.ChainHead(chain=chain, number=0, hash="")
    models.ChainHead.objects.bulk_create([first], ignore_conflicts=True)
    return taken.get()
