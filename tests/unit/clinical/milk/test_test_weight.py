import math

import msgspec
import pytest

from clinical_constants import constant
from spoken import text
from suffice.clinical.milk.test_weight import TestWeightParameters, sum_of, transfer
from suffice.errors import InputError, RefusalError

PARAMETERS = TestWeightParameters(
    evaporation_g_per_kg_per_h=constant(2.0, "g/kg/h"),
    milk_density_g_per_ml=constant(1.03, "g/mL"),
    careful_sd_g=constant(2.5, "g"),
    ward_sd_g=constant(7.2, "g"),
    level_fraction=constant(0.95),
)


def taken(before_g, after_g, minutes=30.0, same_clothes=True, **options):
    return transfer(
        before_g, after_g, PARAMETERS, minutes=minutes, same_clothes=same_clothes, **options
    )


def test_evaporation_is_put_back_and_mass_becomes_volume():
    found = taken(4000, 4060)
    assert found.volume_ml.value == pytest.approx((60 + 2.0 * 4 * 0.5) / 1.03)
    assert found.is_corrected
    assert found.problems == ()


def test_without_minutes_nothing_is_put_back_and_it_is_said():
    found = taken(4000, 4060, minutes=None)
    assert found.volume_ml.value == pytest.approx(60 / 1.03)
    assert not found.is_corrected
    assert any("too low" in text(note) for note in found.volume_ml.working.notes)


def test_clothes_that_were_not_asked_about_are_said():
    assert any(
        "not asked" in text(note)
        for note in taken(4000, 4060, same_clothes=None).volume_ml.working.notes
    )


def test_changed_clothes_refuse_a_transfer():
    with pytest.raises(RefusalError, match="TEST-003"):
        taken(4000, 4060, same_clothes=False)


def test_error_joins_technique_and_scale_steps():
    careful = taken(4000, 4060, technique="careful", resolution_g=5)
    assert careful.se_ml == pytest.approx(math.sqrt(2.5**2 + 2 * 25 / 12) / 1.03)
    ward = taken(4000, 4060)
    assert ward.se_ml == pytest.approx(7.2 / 1.03)
    assert ward.volume_ml.high - ward.volume_ml.value == pytest.approx(1.959963985 * ward.se_ml)
    assert ward.volume_ml.value - ward.volume_ml.low == pytest.approx(1.959963985 * ward.se_ml)


def test_a_negative_transfer_stays_negative_and_says_what_it_means():
    found = taken(4000, 3990, minutes=15)
    assert found.volume_ml.value < 0
    assert any("weighing error, not milk" in text(note) for note in found.volume_ml.working.notes)
    assert found.problems == ()


@pytest.mark.parametrize(("after_g", "is_said"), [(4000, False), (3999.9, True)])
def test_any_negative_transfer_is_said_to_be_one(after_g, is_said):
    notes = taken(4000, after_g, minutes=None).volume_ml.working.notes
    assert any("weighing error, not milk" in text(note) for note in notes) is is_said


# The error reaches 1.96 x 7.2 = 14.11 g; without any error, a weight that stays is no fall.
@pytest.mark.parametrize(
    ("after_g", "sd_g", "codes"),
    [(3985.95, 7.2, []), (3985.85, 7.2, ["TEST-005"]), (4000, 0, []), (3999.9, 0, ["TEST-005"])],
)
def test_a_fall_is_asked_about_from_where_the_error_no_longer_reaches_zero(after_g, sd_g, codes):
    parameters = msgspec.structs.replace(PARAMETERS, ward_sd_g=constant(sd_g, "g"))
    found = transfer(4000, after_g, parameters, minutes=None, same_clothes=True)
    assert [problem.code for problem in found.problems] == codes


def test_a_fall_beyond_the_error_is_asked_about():
    found = taken(4000, 3900)
    assert [problem.code for problem in found.problems] == ["TEST-005"]
    assert found.problems[0].doubtful


@pytest.mark.parametrize(
    ("arguments", "code"),
    [((0, 4000), "TEST-001"), ((4000, float("nan")), "TEST-001"), ((4000, 4060, -1), "TEST-002")],
)
def test_impossible_test_weights_are_refused(arguments, code):
    with pytest.raises(InputError, match=code):
        taken(*arguments)


def test_errors_of_a_day_add_in_squares_and_negatives_stay_in():
    feeds = [taken(4000, 4060), taken(4050, 4045), taken(4040, 4120)]
    total = sum_of(feeds, PARAMETERS)
    assert total.value == pytest.approx(sum(one.volume_ml.value for one in feeds))
    assert total.high - total.value == pytest.approx(1.959963985 * math.sqrt(3) * 7.2 / 1.03)


def test_no_test_weights_are_not_no_milk():
    with pytest.raises(InputError, match="TEST-004"):
        sum_of([], PARAMETERS)


def test_a_sum_with_an_uncorrected_feed_is_said_to_be_low():
    total = sum_of([taken(4000, 4060), taken(4000, 4060, minutes=None)], PARAMETERS)
    assert any("too low" in text(note) for note in total.working.notes)
