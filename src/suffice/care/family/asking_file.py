"""Asking about a family file without a record: the file, and a policy to read it by."""

from __future__ import annotations

from suffice.care.family.plausible import checker
from suffice.clinical.entry import Birth, Record
from suffice.clinical.zone import is_zone, no_zone
from suffice.errors import InputError
from suffice.exchange.family.family_json import decode
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load


def read_record(content: bytes) -> Record:
    """The record of a family file. Doubtful values pass: nothing is stored.

    Raises:
        InputError: FAMILY-001 to FAMILY-005, RECORD-003 to RECORD-007 and impossible values.
    """
    return decode(content, checker(load())).file.record


def policy_for(record: Record, zone: str | None = None) -> Policy:
    """The default policy in a zone: the one named, or that of the first birth, or UTC.

    Raises:
        InputError: CLOCK-005 when there is no such zone.
    """
    births = [entry.fact.zone for entry in record.entries if isinstance(entry.fact, Birth)]
    chosen = zone or next(iter(births), "UTC")
    if not is_zone(chosen):
        raise InputError(no_zone(chosen, where="--zone"))
    return Policy(zone=chosen)
