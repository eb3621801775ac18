"""Who may do what: the roles of a team, the duties of a clinic, and the acts that each allows.

A role is of a team: whoever has it may do its acts with the families of that team. A duty is of the
whole clinic and opens no family: who looks after accounts or reads the audit trail needs none.
One person may have both.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class Act(StrEnum):
    """What somebody wants to do. The first four, and to ask for an erasure, are done with a family."""

    READ = "read"
    WRITE = "write"
    EXPORT = "export"
    PASS_ON = "pass on"  # noqa: S105 -- no password
    OPEN = "open"
    PEOPLE = "people"
    TEAMS = "teams"
    POLICY = "policy"
    AUDIT = "audit"
    OVERSEE = "oversee"
    ERASE = "erase"
    CONFIRM_ERASURE = "confirm erasure"
    STATE = "state"


class Role(StrEnum):
    """What somebody is in a team."""

    READER = "reader"
    CONSULTANT = "consultant"
    LEAD = "lead"


class Duty(StrEnum):
    """What somebody does for the whole clinic, without seeing any family."""

    ADMINISTRATOR = "administrator"
    AUDITOR = "auditor"


_CONSULTANTS: Final = frozenset({Act.READ, Act.WRITE, Act.EXPORT, Act.PASS_ON, Act.OPEN})
ACTS: Final[dict[Role | Duty, frozenset[Act]]] = {
    Role.READER: frozenset({Act.READ}),
    Role.CONSULTANT: _CONSULTANTS,
    Role.LEAD: _CONSULTANTS
    | {Act.PEOPLE, Act.POLICY, Act.AUDIT, Act.OVERSEE, Act.ERASE, Act.CONFIRM_ERASURE},
    Duty.ADMINISTRATOR: frozenset(
        {Act.PEOPLE, Act.TEAMS, Act.POLICY, Act.CONFIRM_ERASURE, Act.STATE}
    ),
    Duty.AUDITOR: frozenset({Act.AUDIT}),
}
"""What each role and each duty allows; docs/accounts.md has the same table for people."""

IN_EMERGENCY: Final = frozenset({Act.READ, Act.WRITE})
"""What may be done with a family of another team that was opened in an emergency."""
