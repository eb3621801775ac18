"""Which families are listed, and in which order: by need, due date, name, age, or the latest."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.assess.results import Tier
from suffice.care.caseload.choosing import (
    RECENT_FOR,
    RECENT_MOST,
    Choice,
    Mine,
    Sort,
    Which,
    chosen,
    folded,
)
from suffice.care.caseload.listing import CaseloadRow
from suffice.care.caseload.summary import InfantLine, Payload
from suffice.clinical.entry import Setting
from suffice.knowledge.policy import Policy

SPACE = UUID("2f6b0f7e-0f0a-4b52-9d0e-5a3d1c8e7b11")
NOW = datetime(2026, 10, 25, 22, 30, tzinfo=UTC)  # 23:30 in Madrid, on the day of 25 hours
MADRID = Policy(zone="Europe/Madrid")
NOBODYS = Mine()


def an_id(name: str) -> UUID:
    return uuid5(SPACE, name)


def row(
    name: str,
    *,
    tier: Tier | None = Tier.SETTLED,
    due_h: float | None = None,
    age_d: float | None = None,
    infant: str = "Kit",
    setting: Setting | None = None,
) -> CaseloadRow:
    born = None if age_d is None else NOW - timedelta(days=age_d)
    infants = (InfantLine(infant_id=an_id(f"{name}'s"), position=1, name=infant, born_at=born),)
    due = None if due_h is None else NOW + timedelta(hours=due_h)
    return CaseloadRow(
        place=1,
        family_id=an_id(name),
        tier=tier,
        kept_reason="[]",
        kept=Payload(name=name, setting=setting, next_due_at=due, infants=infants),
        discharged=False,
        as_of=NOW,
        outdated=None,
    )


def listed(rows: Sequence[CaseloadRow], mine: Mine = NOBODYS, **choice: object) -> list[str]:
    asked = Choice(**choice)  # type: ignore[arg-type]
    return [str(one.name) for one in chosen(rows, asked, MADRID, NOW, mine)]


ROWS = (
    row("Ñuria Óbe", tier=Tier.NOW, due_h=0.25, age_d=3, setting=Setting.HOME),
    row("Bea", tier=Tier.TODAY, due_h=0.75, age_d=40, infant="Zoë"),
    row("Ana", tier=None),
    row("Carl", tier=Tier.SETTLED, due_h=-30, age_d=1, setting=Setting.WARD),
)


def test_by_need_nothing_is_moved_and_nobody_left_out() -> None:
    assert listed(ROWS) == ["Ñuria Óbe", "Bea", "Ana", "Carl"]


@pytest.mark.parametrize(
    ("sort", "order"),
    [
        (Sort.NAME, ["Ana", "Bea", "Carl", "Ñuria Óbe"]),
        (Sort.DUE, ["Carl", "Ñuria Óbe", "Bea", "Ana"]),
        (Sort.AGE, ["Carl", "Ñuria Óbe", "Bea", "Ana"]),
    ],
)
def test_each_order_puts_what_is_not_known_last(sort: Sort, order: list[str]) -> None:
    assert listed(ROWS, sort=sort) == order


def test_due_today_ends_at_midnight_of_the_clinics_clock_and_holds_what_is_overdue() -> None:
    assert listed(ROWS, which=Which.DUE) == ["Ñuria Óbe", "Carl"]


@pytest.mark.parametrize(
    ("words", "found"),
    [("nur", ["Ñuria Óbe"]), ("OBE ñur", ["Ñuria Óbe"]), ("zoe", ["Bea"]), ("xyz", [])],
)
def test_a_name_is_found_without_case_and_accents_in_every_list(
    words: str, found: list[str]
) -> None:
    asked = {"setting": "ward", "tier": Tier.SETTLED, "which": Which.MINE}
    assert listed(ROWS, words=words, **asked) == found


def test_setting_and_level_narrow_the_list() -> None:
    assert listed(ROWS, setting="ward") == ["Carl"]
    assert listed(ROWS, tier=Tier.NOW) == ["Ñuria Óbe"]
    assert listed(ROWS, tier=Tier.NOW, setting="ward") == []


def test_mine_are_those_i_entered_something_for_however_long_ago() -> None:
    mine = Mine(entered={an_id("Carl"): NOW - timedelta(days=90)}, looked={an_id("Bea"): NOW})
    assert listed(ROWS, mine, which=Which.MINE) == ["Carl"]


def test_recent_are_those_opened_and_those_entered_for_in_the_last_days() -> None:
    mine = Mine(
        entered={
            an_id("Carl"): NOW - timedelta(hours=1),
            an_id("Bea"): NOW - timedelta(hours=2),
            an_id("Ana"): NOW - RECENT_FOR,
        },
        looked={an_id("Bea"): NOW, an_id("Ñuria Óbe"): NOW - timedelta(days=1)},
    )
    recent = listed(ROWS, mine, which=Which.RECENT, sort=Sort.LATEST)
    assert recent == ["Bea", "Carl", "Ñuria Óbe"]
    assert listed(ROWS, mine, which=Which.RECENT) == ["Ñuria Óbe", "Bea", "Carl"]


def test_recent_ones_are_few() -> None:
    looked = {an_id(str(n)): NOW - timedelta(minutes=n) for n in range(RECENT_MOST + 9)}
    assert len(Mine(looked=looked).recent(NOW)) == RECENT_MOST


@given(st.lists(st.sampled_from(range(6)), max_size=12), st.sampled_from(Sort))
def test_an_order_neither_adds_nor_loses_a_family_and_keeps_equals_by_need(
    numbers: list[int], sort: Sort
) -> None:
    rows = [
        row(f"{number} of {place:02d}"[:1], due_h=number, age_d=number)
        for place, number in enumerate(numbers)
    ]
    found = chosen(rows, Choice(sort=sort), MADRID, NOW, NOBODYS)
    assert sorted(id(one) for one in found) == sorted(id(one) for one in rows)
    if sort not in {Sort.NEED, Sort.LATEST}:
        places = [rows.index(one) for one in found]
        keys = [numbers[place] for place in places]
        assert keys == sorted(keys)


@given(st.text(max_size=20))
def test_folding_twice_changes_nothing_more(text: str) -> None:
    assert folded(folded(text)) == folded(text)
