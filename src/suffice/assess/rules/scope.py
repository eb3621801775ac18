"""Of whom, and at which ages, a condition is asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

import msgspec

from suffice.assess.rules.table import Facts, Ground, Limit, hours_of
from suffice.assess.rules.truth import Truth, both, truth_of
from suffice.clinical.units import HOURS_PER_DAY
from suffice.clinical.working import Constant
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import Content


class Narrowed(NamedTuple):
    """Whether something is asked at all, and the ages between which it is."""

    truth: Truth
    from_age: Constant | None
    until_age: Constant | None

    def with_ages(self, ground: Ground) -> Ground:
        """The ground with the ages of what it is part of, where it has none of its own."""
        if self.from_age is None and self.until_age is None:
            return ground
        return msgspec.structs.replace(
            ground,
            from_age=ground.from_age or self.from_age,
            until_age=ground.until_age or self.until_age,
        )


ASKED_OF_ALL: Final = Narrowed(Truth.TRUE, None, None)


class Scope(NamedTuple):
    """Of whom, and at which ages, a condition is asked."""

    from_age: Limit | None
    until_age: Limit | None
    from_gestation: Limit | None
    until_gestation: Limit | None
    traits: Mapping[str, tuple[str, ...]]

    @classmethod
    def from_condition(cls, condition: Condition, content: Content) -> Scope | None:
        """The scope of a condition; None where it is asked of all."""
        if not condition.narrows:
            return None

        def limit(key: str) -> Limit | None:
            return Limit.from_key(key, content) if key else None

        return cls(
            limit(condition.from_age),
            limit(condition.until_age),
            limit(condition.from_gestation),
            limit(condition.until_gestation),
            condition.traits,
        )

    def at(self, facts: Facts, age_h: float | None, latest_h: float | None) -> Narrowed:
        """Whether this infant is asked at an age from `age_h` to `latest_h`."""
        at_h = age_h or 0.0
        from_age = None if self.from_age is None else self.from_age.at(at_h)
        until_age = None if self.until_age is None else self.until_age.at(at_h)
        return Narrowed(self.truth_at(facts, age_h, latest_h), from_age, until_age)

    def truth_at(self, facts: Facts, age_h: float | None, latest_h: float | None) -> Truth:
        """The same without the ages between which it is asked."""
        at_h = age_h or 0.0
        from_age = None if self.from_age is None else self.from_age.at(at_h)
        until_age = None if self.until_age is None else self.until_age.at(at_h)
        truth = _between(from_age, until_age, age_h, latest_h)
        if self.from_gestation or self.until_gestation:
            from_gestation = self.from_gestation and self.from_gestation.at(at_h)
            until_gestation = self.until_gestation and self.until_gestation.at(at_h)
            days = facts.gestation_days
            gestation_h = None if days is None else days * HOURS_PER_DAY
            truth = both(truth, _between(from_gestation, until_gestation, gestation_h, gestation_h))
        for name, values in self.traits.items():
            is_so = facts.traits[name] in values if name in facts.traits else None
            truth = both(truth, truth_of(is_so))
        return truth


def _between(
    start: Constant | None, end: Constant | None, first_h: float | None, last_h: float | None
) -> Truth:
    """Whether a stretch of age (or a gestation) reaches between one limit and the other."""
    truth = Truth.TRUE
    if start is not None:
        truth = truth_of(None if last_h is None else last_h >= hours_of(start))
    if end is not None:
        truth = both(truth, truth_of(None if first_h is None else first_h < hours_of(end)))
    return truth
