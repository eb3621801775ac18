"""Until when milk can be used: by state, from expression, never longer once it was thawed or was late."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from suffice.care.milk.on_hand import profile_of
from suffice.clinical.milk.storage import FRESH, Moved, State, hours_of, use_by
from suffice.knowledge.store import load

HOME, UNIT = profile_of(load(), "home"), profile_of(load(), "unit")
START = datetime(2026, 11, 1, 8, 0, tzinfo=UTC)
STATES: tuple[State, ...] = ("fridge", "freezer", "cold box", "thawing", "thawed", "warmed")


def after(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def moved(*pairs: tuple[str, float]) -> list[Moved]:
    return [Moved(to, after(hours)) for to, hours in pairs]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("place", "hours"), [("room", 4), ("fridge", 96), ("cold box", 24), ("freezer", 6 * 730.5)]
)
def test_at_home_each_place_has_the_time_of_the_leaflet(place: State, hours: float) -> None:
    assert use_by(START, place, [], HOME).at == after(hours)


@pytest.mark.parametrize(("place", "hours"), [("room", 4), ("fridge", 48), ("freezer", 3 * 730.5)])
def test_a_unit_has_times_of_its_own(place: State, hours: float) -> None:
    assert use_by(START, place, [], UNIT).at == after(hours)


def test_the_fridge_counts_from_when_it_was_expressed_not_from_when_it_was_put_there() -> None:
    assert use_by(START, "room", moved(("fridge", 3)), HOME).at == after(96)


def test_frozen_in_time_it_has_the_time_of_the_freezer() -> None:
    found = use_by(START, "fridge", moved(("freezer", 40)), HOME)
    assert found.at == after(6 * 730.5)
    assert not found.was_late


def test_what_was_past_its_time_does_not_become_good_by_being_moved() -> None:
    found = use_by(START, "room", moved(("freezer", 5)), HOME)
    assert found.was_late
    assert found.at == after(4)
    again = use_by(START, "room", moved(("freezer", 5), ("thawed", 50)), HOME)
    assert again.was_late
    assert again.at == after(4)


def test_thawing_counts_from_the_freezer_and_thawed_from_when_it_was_thawed() -> None:
    out = use_by(START, "freezer", moved(("thawing", 100)), HOME)
    assert out.at == after(124)
    assert use_by(START, "freezer", moved(("thawing", 100), ("thawed", 112)), HOME).at == after(136)


def test_thawed_milk_that_is_put_back_keeps_its_time() -> None:
    found = use_by(START, "freezer", moved(("thawed", 100), ("freezer", 110)), HOME)
    assert found.at == after(124)
    assert use_by(START, "freezer", moved(("thawed", 100), ("fridge", 110)), HOME).at == after(124)


def test_warmed_milk_has_the_shorter_of_two_times() -> None:
    assert use_by(START, "fridge", moved(("warmed", 10)), HOME).at == after(12)
    late = use_by(START, "fridge", moved(("warmed", 95.5)), HOME)
    assert late.at == after(96)


def test_a_donor_bank_has_the_last_word_in_the_freezer_and_is_never_outlived() -> None:
    until = after(48)
    found = use_by(START, "freezer", [], UNIT, until)
    assert (found.at, found.limit) == (until, None)
    assert use_by(START, "freezer", moved(("thawed", 40)), UNIT, until).at == until
    assert use_by(START, "freezer", moved(("thawed", 10)), UNIT, until).at == after(34)


@pytest.mark.parametrize("end", ["used", "discarded"])
def test_a_container_ends_once(end: str) -> None:
    found = use_by(START, "fridge", moved((end, 5), ("warmed", 6)), HOME)
    assert (found.state, found.since) == (end, after(5))


def test_the_limit_that_decides_is_named() -> None:
    assert use_by(START, "fridge", [], HOME).limit == HOME.fridge
    assert use_by(START, "fridge", moved(("warmed", 1)), UNIT).limit == UNIT.warmed


moves = st.lists(st.tuples(st.sampled_from(STATES), st.floats(0, 5000)), max_size=6).map(
    lambda found: moved(*sorted(found, key=lambda pair: pair[1]))
)


@given(place=st.sampled_from(sorted(FRESH)), made=moves, profile=st.sampled_from([HOME, UNIT]))
def test_nothing_outlives_the_freezer_and_thawed_milk_never_gains_time_in_the_cold(
    place: State, made: list[Moved], profile
) -> None:
    found = use_by(START, place, made, profile)
    longest = START + timedelta(hours=hours_of(profile.freezer))
    thawed = [one.at for one in made if one.to not in FRESH]
    assert found.at <= max(
        [longest, *(one + timedelta(hours=hours_of(profile.thawed)) for one in thawed)]
    )
    for to in ("fridge", "freezer", "cold box"):
        if thawed:
            later = made[-1].at + timedelta(minutes=1)
            assert use_by(START, place, [*made, Moved(to, later)], profile).at <= found.at


@given(place=st.sampled_from(sorted(FRESH)), made=moves)
def test_once_late_it_stays_late(place: State, made: list[Moved]) -> None:
    latest_ones = [
        use_by(START, place, made[:count], HOME).was_late for count in range(len(made) + 1)
    ]
    assert latest_ones == sorted(latest_ones)
