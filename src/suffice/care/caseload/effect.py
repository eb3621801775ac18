"""What another policy would change on the caseload, before it is saved. Nothing is kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

import msgspec

from suffice.assess.assessment import assess
from suffice.assess.results import Tier
from suffice.care.clinic.clinic import clinic
from suffice.knowledge.policy import policy_from_settings
from suffice.knowledge.store import load
from suffice.record import caseload as shelf
from suffice.record import repository

LOOKED_AT: Final = 400
"""How many families are looked at, the most urgent first: as many as can be waited for."""


class Effect(msgspec.Struct, frozen=True, kw_only=True):
    """How families would move between the groups of the caseload, by the plain rules.

    Attributes:
        looked_count: How many families were looked at.
        all_count: How many are on the list.
        moves: (group now, group then) to how many families, where the two differ.
        before: Group to how many families now.
        after: Group to how many then.
    """

    looked_count: int
    all_count: int
    moves: Mapping[tuple[Tier, Tier], int]
    before: Mapping[Tier, int]
    after: Mapping[Tier, int]

    @property
    def more_urgent_count(self) -> int:
        """How many would stand in a more urgent group."""
        return sum(count for (now, then), count in self.moves.items() if then < now)

    @property
    def less_urgent_count(self) -> int:
        """How many would stand in a less urgent group."""
        return sum(count for (now, then), count in self.moves.items() if then > now)


def changes_judgement(settings: Mapping[str, Any]) -> bool:
    """Whether settings differ from the policy in force in what a family is judged by."""
    now = clinic().policy
    new = policy_from_settings(settings, load(), confirmed=True)
    return (new.constants, new.choices) != (now.constants, now.choices)


def effect_of(settings: Mapping[str, Any], *, now: datetime, limit: int = LOOKED_AT) -> Effect:
    """What a policy would change.

    Args:
        settings: The whole policy as plain settings; values out of range count as confirmed.
        now: The instant as of which families are judged, before and after.
        limit: How many families are looked at.

    Raises:
        InputError: POLICY-001 to POLICY-004, CONTENT-013, as when it is saved.
    """
    here = clinic()
    policy = policy_from_settings(settings, load(), confirmed=True)
    content = policy.content_in_force(load())
    lines = shelf.families(with_discharged=False)
    records = repository.read_many([line.family_id for line in lines[:limit]]).values()
    pairs = [
        (
            assess(record, now, here.content, here.policy, engine=False).rank.tier,
            assess(record, now, content, policy, engine=False).rank.tier,
        )
        for record in records
    ]
    return Effect(
        looked_count=len(pairs),
        all_count=len(lines),
        moves=Counter(pair for pair in pairs if pair[0] is not pair[1]),
        before=Counter(before for before, _ in pairs),
        after=Counter(after for _, after in pairs),
    )
