"""Milk that is kept: how a container and what was done with it are said in a line."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

import msgspec
import pytest

from suffice.clinical.entry import KINDS
from suffice.clinical.entry.milk import MilkMoved, MilkStored
from suffice.knowledge.policy import Policy
from suffice.language.facts import parts_of
from suffice.language.text import text_of


def line(fact: MilkStored | MilkMoved) -> str:
    return ", ".join(text_of(one, Policy()) for one in parts_of(fact))


def test_a_container_says_whose_milk_how_much_and_where() -> None:
    at = datetime(2026, 11, 28, 8, tzinfo=UTC)
    fact = MilkStored(
        milk="donor", volume_ml=50, place="freezer", lot="B-77", expires_at=at, expressed_at=at
    )
    assert line(fact).startswith(
        "donor milk, 50\N{NO-BREAK SPACE}mL, in the freezer, expressed Sat 28"
    )
    assert "lot B-77" in line(fact)


def test_what_was_done_names_the_second_person() -> None:
    assert line(MilkMoved(to="used", second="Nadia")) == "given, checked with Nadia"
    assert line(MilkMoved(to="thawing")) == "taken out to thaw"


def test_which_container_it_was_is_kept_and_not_said() -> None:
    fact = MilkMoved(milk_id=uuid4(), to="warmed")
    assert line(fact) == "warmed"
    assert msgspec.json.decode(msgspec.json.encode(fact), type=MilkMoved) == fact
    assert KINDS["milk moved"] is MilkMoved


@pytest.mark.parametrize("change", [{"milk": "formula"}, {"place": "shelf"}])
def test_another_milk_or_place_is_refused(change: dict[str, str]) -> None:
    given = {"kind": "milk stored", "milk": "donor", "volume_ml": 5, "place": "room"} | change
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(given, type=MilkStored)
