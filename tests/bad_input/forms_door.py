"""The forms as the tables name them: where each is sent, and what it holds beside the bad value."""

from __future__ import annotations

from typing import Any

from bad_input.family import AVA, FAMILY, NOW, an_id
from bad_input.table import filled

ENTERED = {
    "entry_id": str(an_id("a new entry")),
    "infant": str(AVA),
    "when": "2026-11-25T10:30",
    "basis": "measured",
}
WITHOUT_INFANT = {name: value for name, value in ENTERED.items() if name != "infant"}
KINDS: dict[str, dict[str, str]] = {
    "weight": {"weight": "3820", "clothing": "naked", "device": "scale 1"},
    "test weight": {"before": "3820", "after": "3880", "minutes": "25", "same_clothes": "yes"},
    "feed": {"milk": "expressed", "volume": "60", "minutes": "15"},
    "wet": {"count": "6", "over_h": "24"},
    "stool": {"count": "3", "over_h": "24", "colour": "yellow"},
    "parent day": {},
    "expression": {"left": "40", "right": "35", "minutes": "15", "hours_since_last": "3"},
    "temperature": {"temperature": "36.9", "site": "axilla"},
    "size": {"length": "54.5", "head": "37"},
    "birth": {"birth_weight": "3000", "sex": "female", "gestation": "38+0", "multiple": "2"},
    "note": {"text": "Parent is tired."},
    "identity": {"name": "Ava"},
    "illness": {"what": "jaundice", "present": "yes"},
    "contact": {"setting": "home", "next_due": "2026-11-28T10:00"},
}
NEW_FAMILY = {
    "family_id": str(an_id("a new family")),
    "opened": NOW.isoformat(timespec="microseconds"),
    "infants_count": "1",
    "name": "Third Testcase",
    "setting": "clinic",
    "infant-1-name": "Dara",
    "infant-1-born": "2026-11-22T08:15",
    "infant-1-birth_weight": "3280",
    "infant-1-gestation": "38+2",
}
BENCH = {
    "born": "2026-11-20T10:00",
    "birth_weight": "3300",
    "weight_1": "3100",
    "weighed_1": "2026-11-23T10:00",
}
NEW_USER = {"name": "marta", "role": "consultant"}
WITHDRAW = {"withdrawal_id": str(an_id("a new entry")), "reason": "entered for the wrong infant"}
"""Fields that no page shows again, on purpose."""

PAGE_MARKS = frozenset({"infants_count"})
"""Fields that the page itself writes anew each time."""


def address(case: dict[str, Any]) -> str:
    """Where the form of a case is sent."""
    form = case["form"]
    entry = f"/families/{FAMILY}/entries/{an_id(case.get('entry', ''))}"
    others = {
        "new family": "/families/new/",
        "bench": "/bench/",
        "new user": "/users/",
        "policy": "/policy/",
        "import": "/import/",
        "withdraw": f"{entry}/withdraw/",
        "correct": f"{entry}/correct/",
    }
    return others.get(form, f"/families/{FAMILY}/enter/{form.replace(' ', '-')}/")


def usual(case: dict[str, Any]) -> dict[str, str]:
    """What the form of a case holds beside the bad value."""
    form = case["form"]
    others = {
        "new family": NEW_FAMILY,
        "bench": BENCH,
        "new user": NEW_USER,
        "withdraw": WITHDRAW,
        "import": {},
        "contact": WITHOUT_INFANT | KINDS["contact"],
        "expression": WITHOUT_INFANT | KINDS["expression"],
        "parent day": WITHOUT_INFANT | KINDS["parent day"],
        "correct": WITHOUT_INFANT | KINDS["weight"],
        "policy": {},
    }
    return dict(others[form]) if form in others else ENTERED | KINDS[form]


def typed(case: dict[str, Any], ids: Any) -> dict[str, str]:
    """What is typed in a case."""
    return {name: filled(text, ids) for name, text in case["typed"].items()}
