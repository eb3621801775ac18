import math

import pytest

from clinical_constants import BORN_AT, INFANT, constant, entry, hours
from spoken import text
from suffice.clinical.entry import Feed, TestWeight
from suffice.clinical.milk.known_intake import KnownIntakeParameters, known_intake
from suffice.clinical.milk.test_weight import TestWeightParameters

PARAMETERS = KnownIntakeParameters(
    window_h=constant(24, "h"), match_minutes=constant(45, "min"), gap_h=constant(6, "h")
)
WEIGHING = TestWeightParameters(
    evaporation_g_per_kg_per_h=constant(0.0, "g/kg/h"),
    milk_density_g_per_ml=constant(1.0, "g/mL"),
    careful_sd_g=constant(2.5, "g"),
    ward_sd_g=constant(7.0, "g"),
    level_fraction=constant(0.95),
)


def known(entries, as_of_h=100):
    return known_intake(
        entries,
        INFANT,
        born_at=BORN_AT,
        as_of=hours(as_of_h),
        parameters=PARAMETERS,
        weighing=WEIGHING,
    )


def bottle(at_h, ml, milk="formula"):
    return entry(Feed(milk=milk, volume_ml=ml), at_h)


def weighed(at_h, grams, **more):
    return entry(
        TestWeight(before_g=3300, after_g=3300 + grams, minutes=20, same_clothes=True, **more), at_h
    )


def test_known_volumes_are_summed_by_milk():
    found = known([bottle(at, 30) for at in range(80, 101, 4)] + [weighed(78, 40)])
    assert found.volume_ml.value == 6 * 30 + 40
    assert [(one.milk, one.volume_ml, one.feeds) for one in found.by_milk] == [
        ("breast", 40, 1),
        ("formula", 180, 6),
    ]
    assert found.is_whole
    assert found.per_day_ml().value == pytest.approx(220)


def test_what_was_poured_has_no_error_of_weighing():
    found = known([bottle(at, 30) for at in range(78, 101, 4)])
    assert (found.volume_ml.low, found.volume_ml.high) == (180, 180)


def test_an_unmeasured_feed_is_never_nothing():
    found = known([*(bottle(at, 30) for at in range(80, 101, 4)), entry(Feed(milk="breast"), 90)])
    assert found.unmeasured_feeds == 1
    assert not found.is_whole
    assert found.volume_ml.high is None
    assert found.per_day_ml() is None
    assert any("At least" in text(note) for note in found.volume_ml.working.notes)


def test_nothing_known_is_not_nothing_taken():
    found = known([entry(Feed(milk="breast", side="left"), 90)])
    assert found.volume_ml is None
    assert known([]).volume_ml is None


def test_a_feed_beside_its_test_weight_is_one_feed():
    found = known([weighed(90, 50), entry(Feed(milk="breast", side="left", minutes=15), 89.5)])
    assert (found.known_feeds, found.unmeasured_feeds) == (1, 0)


def test_a_long_gap_makes_the_log_incomplete():
    found = known([bottle(80, 60), bottle(95, 60)])
    assert not found.is_whole
    assert found.longest_gap_h == 15
    assert any("15.0 h" in text(note) for note in found.volume_ml.working.notes)


def test_the_error_is_that_of_the_test_weights():
    found = known([weighed(at, 60) for at in range(79, 101, 3)])
    assert found.volume_ml.high - found.volume_ml.value == pytest.approx(
        1.959963985 * 7 * math.sqrt(8)
    )


def test_a_refused_test_weight_is_an_unmeasured_feed():
    changed = entry(TestWeight(before_g=3300, after_g=3500, same_clothes=False), 90)
    found = known([changed, bottle(92, 30)])
    assert [problem.code for problem in found.problems] == ["TEST-003"]
    assert (found.known_feeds, found.unmeasured_feeds) == (1, 1)


def test_only_the_last_hours_of_this_infant_count():
    elsewhere = entry(Feed(milk="formula", volume_ml=500), 90, infant_id=None)
    found = known([bottle(75, 90), bottle(76, 90), bottle(100, 30), bottle(101, 90), elsewhere])
    assert found.volume_ml.value == 30


def test_just_after_birth_the_hours_begin_with_birth():
    found = known([bottle(2, 5), bottle(6, 7)], as_of_h=8)
    assert found.from_at == BORN_AT
    assert found.volume_ml.value == 12
    assert found.per_day_ml().value == pytest.approx(36)
