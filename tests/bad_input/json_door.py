"""The family file of the tables, and how a case spoils it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import timedelta
from typing import Any
from uuid import UUID

from bad_input.family import BORN, NOW, OPENED, an_entry, an_id, born, weighed
from bad_input.table import filled
from suffice.clinical import entry as domain
from suffice.exchange.family.family_json import FamilyFile, encode

STEP = re.compile(r"([A-Za-z_]+)|\[(\d+)\]")
DARA = an_id("Dara")
SPOILT = UUID("7d0c8f0a-93a5-4a55-8a3f-0b6e7f6f1c03")


def family_file() -> dict[str, Any]:
    """The file of a family that is not on the record, as the tables number its entries."""
    last = NOW - timedelta(hours=2)
    removed = weighed("Dara's withdrawn weight", (11, 17), 3600, infant_id=DARA)
    wrong = removed.true_at, DARA, "Dara's withdrawn weight"
    entries = (
        an_entry("fourth parent", domain.Identity(name="Fourth Testcase"), OPENED),
        born("Dara", DARA, 1),
        weighed("Dara's first weight", (11, 3), 3150, infant_id=DARA),
        weighed("Dara's mistyped weight", (11, 10), 3440, infant_id=DARA),
        weighed("Dara's weight", (11, 10), 3400, infant_id=DARA, replaces="Dara's mistyped weight"),
        removed,
        an_entry("Dara's withdrawal", domain.Withdrawal(reason="another infant's"), *wrong),
        weighed("Dara's last weight", (11, 24), 3800, infant_id=DARA),
        an_entry("Dara's wets", domain.Wet(count=6, over_h=24), last, DARA),
        an_entry("test", domain.TestWeight(before_g=3800, after_g=3860, minutes=20), last, DARA),
        an_entry("warmth", domain.Temperature(temperature_c=36.9, site="axilla"), last, DARA),
        an_entry("milk", domain.Feed(milk="expressed", volume_ml=60), last, DARA),
        an_entry("session", domain.Expression(left_ml=40, right_ml=35), last),
        an_entry("remark", domain.Note(text="tired"), last),
    )
    record = domain.Record(
        family_id=SPOILT, infants=(domain.Infant(id=DARA, position=1),), entries=entries
    )
    assert min(entry.true_at for entry in entries) >= BORN.astimezone(entries[0].true_at.tzinfo)
    content = encode(FamilyFile.from_record(record, opened_at=OPENED, opened_by="consultant"))
    return dict(json.loads(content))


def spoilt(case: Mapping[str, Any], ids: Mapping[str, UUID]) -> bytes:
    """The bytes of the file that a case is about."""
    if "text" in case:
        return filled(case["text"], ids).encode(case.get("encoding", "utf-8"))
    document = family_file()
    if "again" in case:
        document["entries"].append(dict(document["entries"][case["again"]]))
    for path, value in case.get("set", {}).items():
        holder, last = _holder(document, path)
        holder[last] = filled(value, ids) if isinstance(value, str) else value
    for path in case.get("remove", []):
        holder, last = _holder(document, path)
        del holder[last]
    text = json.dumps(document, ensure_ascii=False)
    for written, instead in case.get("in_text", {}).items():
        assert text.count(written) == 1, f"{written} stands {text.count(written)} times"
        text = text.replace(written, filled(instead, ids))
    for written, instead in case.get("everywhere", {}).items():
        text = text.replace(filled(written, ids), filled(instead, ids))
    return text.encode(case.get("encoding", "utf-8"))


def _holder(document: Any, path: str) -> tuple[Any, Any]:
    """What holds the value at a path such as ``entries[3].fact.weight_g``, and its key there."""
    steps = [name or int(number) for name, number in STEP.findall(path)]
    for step in steps[:-1]:
        document = document[step]
    return document, steps[-1]
