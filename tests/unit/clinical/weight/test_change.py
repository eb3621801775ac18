import numpy as np
import pytest

from clinical_constants import INFANT, birth_entry, constant, entry
from spoken import text
from suffice.clinical.entry import Weight
from suffice.clinical.weight.change import (
    WeightChangeParameters,
    birth_reference,
    change_from_early_reference,
    change_percent,
    changes_percent,
    early_reference,
    nadir,
    regain,
)
from suffice.clinical.weight.weighing import Weighing, weighings
from suffice.errors import InputError, RefusalError

PARAMETERS = WeightChangeParameters(
    early_reference_h=constant(24, "h"),
    early_reference_window_h=constant(6, "h"),
    first_weight_late_h=constant(72, "h"),
    gap_late_h=constant(48, "h"),
)


def course(*points, birth_g=3400.0):
    """Weighings from (age in h, weight in g), the birth weight first."""
    later = (Weighing(age_h=age, weight_g=weight) for age, weight in points)
    return (Weighing(age_h=0, weight_g=birth_g, is_birth=True), *later)


def test_weights_of_a_record_come_in_order_with_the_birth_weight_first():
    entries = (
        entry(Weight(weight_g=3150.0), 60, device="scale A"),
        birth_entry(birth_weight_g=3400.0),
        entry(Weight(weight_g=3300.0), 24),
    )
    found = weighings(entries, INFANT)
    assert [(one.age_h, one.weight_g) for one in found] == [(0, 3400), (24, 3300), (60, 3150)]
    assert found[0].is_birth
    assert found[2].scale == "scale A"


def test_the_birth_weight_stands_before_a_weight_of_the_same_instant():
    entries = (entry(Weight(weight_g=3390.0), 0), birth_entry(birth_weight_g=3400.0))
    assert [one.is_birth for one in weighings(entries, INFANT)] == [True, False]


def test_birth_facts_without_a_weight_give_none():
    found = weighings((birth_entry(), entry(Weight(weight_g=3150.0), 60)), INFANT)
    assert [one.is_birth for one in found] == [False]


def test_weights_of_another_infant_are_left_out():
    other = entry(Weight(weight_g=3150.0), 60, infant_id=None)
    assert len(weighings((birth_entry(birth_weight_g=3400.0), other), INFANT)) == 1


def test_weights_without_birth_facts_are_refused():
    with pytest.raises(InputError, match="WEIGHT-020"):
        weighings((entry(Weight(weight_g=3150.0), 60),), INFANT)


def test_a_weight_before_birth_is_refused():
    with pytest.raises(InputError, match="WEIGHT-021"):
        weighings((birth_entry(), entry(Weight(weight_g=3150.0), -2)), INFANT)


def test_change_is_signed_and_shows_its_working():
    birth, later = course((48, 3162))
    figure = change_percent(later, birth)
    assert figure.value == pytest.approx(-7.0)
    assert text(figure.working.formula) == "100 x (weight - birth weight) / birth weight"
    assert {text(one.name) for one in figure.working.inputs} >= {"weight", "birth weight"}


def test_changes_of_a_cohort_keep_the_unknown_unknown():
    changes = changes_percent([3060, np.nan, 3000], [3400, 3400, 0])
    assert changes[0] == pytest.approx(-10)
    assert np.isnan(changes[1:]).all()


def test_no_later_weight_stands_in_for_a_missing_birth_weight():
    with pytest.raises(RefusalError, match="WEIGHT-023"):
        birth_reference([Weighing(age_h=5, weight_g=3400)])


def test_a_reference_of_nothing_is_refused():
    with pytest.raises(InputError, match="WEIGHT-022"):
        change_percent(Weighing(age_h=5, weight_g=3400), Weighing(age_h=0, weight_g=0))


@pytest.mark.parametrize(
    ("ages", "chosen"),
    [([20, 26], 26), ([22, 27], 22), ([22, 26], 26), ([17.9, 30.1], None), ([30], 30)],
)
def test_the_24_hour_weight_is_the_nearest_in_its_window(ages, chosen):
    reference = early_reference(course(*((age, 3300) for age in ages)), PARAMETERS)
    assert (reference and reference.age_h) == chosen


def test_change_from_the_24_hour_weight():
    series = course((25, 3250), (60, 3120))
    figure = change_from_early_reference(series[-1], series, PARAMETERS)
    assert figure.value == pytest.approx(-4.0)
    assert {one.value for one in figure.working.constants} == {24, 6}


def test_change_from_the_24_hour_weight_is_refused_without_one():
    series = course((60, 3120))
    with pytest.raises(RefusalError, match="WEIGHT-024"):
        change_from_early_reference(series[-1], series, PARAMETERS)


def test_nadir_lies_between_its_neighbours():
    figure = nadir(course((24, 3280), (60, 3160), (96, 3200)), PARAMETERS)
    assert (figure.value, figure.low, figure.high) == (60, 24, 96)


def test_a_lowest_weight_that_is_the_last_may_not_be_the_nadir():
    figure = nadir(course((24, 3280), (60, 3160)), PARAMETERS)
    assert figure.high is None
    assert any("still be falling" in text(note) for note in figure.working.notes)


def test_a_first_weight_taken_late_is_said():
    figure = nadir(course((100, 3300), (130, 3350)), PARAMETERS)
    assert any("early loss was not seen" in text(note) for note in figure.working.notes)


def test_a_first_weight_in_time_needs_no_word():
    notes = nadir(course((72, 3150), (96, 3200)), PARAMETERS).working.notes
    assert not any("early loss was not seen" in text(note) for note in notes)


def test_nadir_needs_a_weight_after_birth():
    with pytest.raises(RefusalError, match="WEIGHT-025"):
        nadir(course(), PARAMETERS)


def test_regain_is_first_seen_and_interpolated():
    found = regain(course((48, 3150), (192, 3360), (216, 3440)), PARAMETERS)
    assert found.first_seen_h == 216
    assert found.interpolated_h is not None
    assert found.interpolated_h.value == pytest.approx(204)
    assert (found.interpolated_h.low, found.interpolated_h.high) == (192, 216)
    assert found.caveats == ()


def test_a_weight_equal_to_birth_weight_is_regained():
    found = regain(course((48, 3150), (72, 3400), (96, 3400)), PARAMETERS)
    assert found.first_seen_h == 72
    assert found.caveats == ()


def test_not_yet_regained_says_until_when():
    found = regain(course((48, 3150), (192, 3360)), PARAMETERS)
    assert found.first_seen_h is None
    assert found.not_by_h == 192


def test_never_below_birth_weight_is_not_a_regain():
    found = regain(course((200, 3500)), PARAMETERS)
    assert found.never_below
    assert found.first_seen_h is None
    assert len(found.caveats) == 2


def test_a_later_fall_below_birth_weight_is_said():
    found = regain(course((48, 3150), (72, 3400), (96, 3390)), PARAMETERS)
    assert any("below birth weight again" in text(caveat) for caveat in found.caveats)


def test_weights_far_apart_make_the_day_rough():
    found = regain(course((48, 3150), (240, 3500)), PARAMETERS)
    assert any("only roughly known" in text(caveat) for caveat in found.caveats)
