"""What the rules of version 2026.11.1, before the ladder of levels, say of the same simulated infants.

`python -m tools.validate.load --former CHECKOUT` runs this with a checkout of that version (commit
d9dab9c5) in front of the path. It reads infants as JSON from standard input and writes, of each,
the group at each contact: `red`, `overdue`, `watch` or `settled` (the engine is not asked).
"""

from __future__ import annotations

import importlib
import json
import sys
from datetime import datetime, timedelta
from typing import Any
from uuid import NAMESPACE_OID, uuid5

entry: Any = importlib.import_module("suffice.clinical.entry")
assessment: Any = importlib.import_module("suffice.care.assessment")
policies: Any = importlib.import_module("suffice.care.policy")
store: Any = importlib.import_module("suffice.knowledge.store")


def record_of(written: dict[str, Any], born_at: datetime) -> Any:
    """The record of one infant."""
    who = entry.Infant(id=uuid5(NAMESPACE_OID, "load"), position=1)
    entries = tuple(
        entry.Entry(
            id=uuid5(NAMESPACE_OID, str(number)),
            fact=getattr(entry, kind)(**fields),
            basis=entry.Basis.MEASURED,
            true_at=born_at + timedelta(days=age_d),
            entered_at=born_at + timedelta(days=age_d),
            entered_by="load",
            infant_id=who.id,
        )
        for number, (age_d, kind, fields) in enumerate(written["facts"])
    )
    return entry.Record(family_id=uuid5(NAMESPACE_OID, "family"), infants=(who,), entries=entries)


def main() -> None:
    asked = json.load(sys.stdin)
    born_at = datetime.fromisoformat(asked["born_at"])
    content, policy = store.load(), policies.Policy(zone="UTC")
    said = []
    for written in asked["infants"]:
        record = record_of(written, born_at)
        instants = [born_at + timedelta(days=day, hours=1) for day in asked["contacts_d"]]
        said.append(
            [
                assessment.assess(record, at, content, policy, engine=False).rank.tier.name.lower()
                for at in instants
            ]
        )
    json.dump(said, sys.stdout)


if __name__ == "__main__":
    main()
