"""The limits as the content holds them: filled by name, in order, and none forgotten."""

from __future__ import annotations

import pytest

from clinical_constants import constant
from entry_limits import LIMITS, NAMED, NUMBERS, SERIES
from suffice.clinical.plausibility_limits import PlausibilityLimits
from suffice.errors import ContentError
from suffice.knowledge.store import load

HELD = {f"plausibility.{name}": constant(value) for name, value in NUMBERS.items()}
SERIES_HELD = {f"plausibility.{name}": series for name, series in SERIES.items()}
CONTENT = PlausibilityLimits.from_content(load().flat, load().series)
PAIRS = [
    name.replace("_refused_low_", "_{}_low_")
    for name in (*NUMBERS, *SERIES)
    if "_refused_low_" in name
]


def filled(**more):
    return PlausibilityLimits.from_content({**HELD, **more}, SERIES_HELD)


@pytest.mark.parametrize("name", NUMBERS)
def test_each_limit_stands_under_its_own_name(name):
    assert filled().constant(name).value == NUMBERS[name]


@pytest.mark.parametrize(
    "left_out", ["plausibility.loss_doubtful_percent", "plausibility.head_refused_low_cm"]
)
def test_a_limit_that_the_content_lacks_is_an_error_that_names_it(left_out):
    held = {key: value for key, value in HELD.items() if key != left_out}
    with pytest.raises(ContentError, match=f"CONTENT-020.*{left_out}"):
        PlausibilityLimits.from_content(held, SERIES_HELD)


def test_all_that_is_missing_is_told_at_once():
    with pytest.raises(ContentError) as caught:
        PlausibilityLimits.from_content({}, {})
    assert len(caught.value.problems) == len(NUMBERS) + len(SERIES)


def test_a_limit_that_a_declaration_names_by_its_whole_key_is_taken_where_the_set_has_it():
    key = "bilirubin.refused_umol_per_l"
    assert filled().constant(key) is None
    assert filled(**{key: constant(999)}).constant(key).value == 999
    assert LIMITS.constant(key).value == NAMED[key]


def test_the_whole_keys_are_those_of_the_declarations():
    assert sorted(PlausibilityLimits.names()) == sorted(NAMED)


@pytest.mark.parametrize("limits", [CONTENT, LIMITS], ids=["content", "of the tests"])
@pytest.mark.parametrize("pair", PAIRS)
def test_impossible_lies_outside_unlikely_on_both_sides(limits, pair):
    high = pair.replace("_low_", "_high_")
    four = [
        limits.constant(name)
        for name in (
            pair.format("refused"),
            pair.format("doubtful"),
            high.format("doubtful"),
            high.format("refused"),
        )
    ]
    places = getattr(four[0], "positions", (None,))
    for place in places:
        values = [one.value if place is None else one.at(place).value for one in four]
        assert values[0] < values[1] < values[2] < values[3]


ONE_SIDED = [
    name
    for name in NUMBERS
    if "_refused_high_" in name and name.replace("_high_", "_low_") not in NUMBERS
]


@pytest.mark.parametrize("name", ONE_SIDED)
def test_impossible_lies_above_unlikely_where_there_is_no_lower_limit(name):
    assert (
        CONTENT.constant(name).value
        > CONTENT.constant(name.replace("_refused_", "_doubtful_")).value
        > 0
    )
