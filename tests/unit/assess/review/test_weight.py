"""Weights of one infant: change, lowest, regain and gain, and the reason for each that is not there."""

from __future__ import annotations

import msgspec
import pytest

from spoken import in_sentences, text
from suffice.assess.review.gain import (
    GAIN_FIGURES,
    NO_GAIN_YET,
    NO_WEIGHT_AFTER_BIRTH,
    course_of,
    too_close,
)
from suffice.assess.review.weight import (
    WEIGHT_FIGURES,
    loss_percent,
    review_weights,
    usable,
)
from suffice.clinical.weight.weighing import Weighing
from suffice.clinical.working import Figure, Working
from suffice.inference.evidence import Scale
from suffice.message import Amount, message
from unit.assess.review.reviewed import (
    PARAMETERS,
    POLICY,
    a_case,
    instant,
    present,
    values,
)

BOY = "boy, 39+0, 3500 g, vaginal"


def reviewed(seen, asked_at="12 d", infant=BOY, **more):
    case = a_case(infant, seen, asked_at, **more)
    return review_weights(case, PARAMETERS, corrected_age=None).reviewed


def figure(review, name):
    return round(review.figures[name].value, 3)


def test_without_a_birth_every_figure_says_why_it_is_not_there():
    review = reviewed("60 h: 3300 g", infant="nobody knows")
    assert set(review.not_computed) == {*WEIGHT_FIGURES, *GAIN_FIGURES}
    assert review.figures == {}
    assert review.measures == {}


def test_without_a_weight_after_birth_nothing_is_worked_out_of_the_birth_weight():
    review = reviewed("10 h: wet")
    assert {review.not_computed[name] for name in (*WEIGHT_FIGURES, *GAIN_FIGURES)} == {
        NO_WEIGHT_AFTER_BIRTH
    }
    assert review.measures == {}


# 3500 g at birth: 175 g are 5 %.
def test_a_loss_is_a_share_of_the_birth_weight_and_a_change_its_opposite():
    review = reviewed("60 h: 3325 g")
    assert (figure(review, "change_percent"), figure(review, "loss_percent")) == (-5.0, 5.0)
    assert values(review)["loss_percent"] == [5.0]
    (measure,) = review.measures["loss_percent"]
    assert (measure.age_h, measure.at) == (60, instant("60 h"))


def test_a_weight_equal_to_birth_is_a_loss_of_nothing_without_a_sign():
    review = reviewed("60 h: 3500 g")
    assert str(review.figures["loss_percent"].value) == "0.0"


def test_the_loss_is_that_of_the_latest_weight_and_the_lowest_keeps_its_own():
    review = reviewed("48 h: 3255 g; 96 h: 3430 g")
    assert figure(review, "loss_percent") == 2.0
    assert (figure(review, "nadir_loss_percent"), figure(review, "nadir_h")) == (7.0, 48.0)


@pytest.mark.parametrize(
    ("seen", "loss"),
    [
        ("48 h: 3400 g; 60 h: 3300 g clothed", 5.714),  # lower although clothed: at least that
        ("48 h: 3300 g; 60 h: 3400 g clothed", 5.714),  # higher: clothes hide what is lost
        ("48 h: 3300 g; 60 h: 3300 g clothed", 5.714),
        ("48 h: 3200 g clothed; 60 h: 3300 g", 5.714),  # an older clothed weight is past
        ("60 h: 3300 g clothed", 5.714),
    ],
)
def test_a_clothed_weight_counts_only_where_it_shows_a_loss_all_the_same(seen, loss):
    assert figure(reviewed(seen), "loss_percent") == loss


def test_a_clothed_weight_is_shown_as_a_sign_and_used_for_no_gain():
    review = reviewed("48 h: 3300 g; 8 d: 3600 g clothed; 10 d: 3700 g clothed")
    assert present(review) >= {"clothed_weight"}
    assert present(review) >= {"last_weight_is_clothed"}
    (sign,) = review.signs["clothed_weight"]
    assert sign.age_h == 240
    assert dict(sign.gaps)["weight"] == Amount(3700.0, "g")
    assert review.not_computed["gain_g_per_day"] == NO_GAIN_YET


def test_only_weights_that_are_not_clothed_are_used():
    case = a_case(BOY, "48 h: 3300 g; 60 h: 3400 g clothed", "3 d")
    assert [one.weight_g for one in usable(case)] == [3500, 3300]


def test_a_weight_without_a_birth_weight_is_compared_with_none():
    review = reviewed("60 h: 3300 g", infant="boy, 39+0, vaginal")
    assert {"change_percent", "loss_percent"} <= set(review.not_computed)
    assert review.measures == {}
    assert review.not_computed["gain_g_per_day"] == too_close(PARAMETERS)


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        ("60 h: 3300 g; 8 d: 3450 g", "The weight was still below birth weight at 8 days of age."),
        ("60 h: 3550 g", "No weight below birth weight was seen."),
    ],
)
def test_a_regain_that_was_not_seen_says_what_was(seen, says):
    assert text(reviewed(seen).not_computed["regain_h"]) == says


def test_a_regain_lies_between_the_last_weight_below_and_the_first_above():
    review = reviewed("72 h: 3300 g; 8 d: 3450 g; 10 d: 3550 g")
    assert figure(review, "regain_h") == 216.0
    assert review.figures["regain_h"].working.notes == ()


def test_what_limits_a_regain_stands_in_its_working():
    review = reviewed("72 h: 3300 g; 8 d: 3450 g; 10 d: 3550 g; 11 d: 3490 g")
    (note,) = review.figures["regain_h"].working.notes
    assert text(note) == "A later weight is below birth weight again."


def test_with_one_weight_there_is_no_gain():
    review = reviewed("8 d: 3450 g", infant="boy, 39+0, vaginal")
    assert {review.not_computed[name] for name in GAIN_FIGURES} == {too_close(PARAMETERS)}


def test_a_gain_since_the_lowest_and_since_the_last_weight_are_told_apart():
    review = reviewed("72 h: 3300 g; 7 d: 3400 g; 11 d: 3520 g")
    assert figure(review, "gain_last_g_per_day") == 30.0
    assert figure(review, "gain_since_nadir_g_per_day") == 27.5


def test_two_weights_that_hold_a_loss_and_a_brisk_gain_tell_no_gain():
    review = reviewed("72 h: 3300 g; 10 d: 3500 g; 11 d: 3530 g")
    assert "gain_last_g_per_day" not in review.figures
    why = str(in_sentences(review.not_computed["gain_last_g_per_day"]))
    assert why.startswith("The last two weights cannot tell the gain: anything from")
    apart = reviewed("72 h: 3300 g; 7 d: 3400 g; 11 d: 3520 g")
    assert figure(apart, "gain_last_g_per_day") == 30.0


def test_a_latest_weight_that_is_the_lowest_shows_no_gain():
    review = reviewed("48 h: 3400 g; 72 h: 3300 g")
    assert {review.not_computed[name] for name in GAIN_FIGURES[1:]} == {NO_GAIN_YET}
    assert figure(review, "gain_last_g_per_day") == -100.0
    assert "unanswered_gain_g_per_day" not in review.measures
    case = a_case(BOY, "48 h: 3400 g; 72 h: 3300 g", "12 d")
    weights = review_weights(case, PARAMETERS, corrected_age=None)
    assert (weights.has_risen, weights.tells) == (False, None)


def turn(days):
    """An age so many days after the early loss should be over."""
    return f"{PARAMETERS.weight_change.first_weight_late_h.value / 24 + days:g} d"


def test_once_the_early_loss_should_be_over_a_fall_is_judged_as_it_stands():
    review = reviewed(f"{turn(0)}: 3400 g; {turn(4)}: 3300 g", turn(5))
    assert values(review)["unanswered_gain_g_per_day"] == [-25.0]
    assert review.not_computed["gain_since_nadir_g_per_day"] == NO_GAIN_YET
    assert "gain_g_per_day" not in review.not_computed


def test_before_that_a_fall_is_the_early_loss():
    review = reviewed(f"{turn(-0.1)}: 3400 g; {turn(4)}: 3300 g", turn(5))
    assert "unanswered_gain_g_per_day" not in review.measures
    assert review.not_computed["gain_g_per_day"] == NO_GAIN_YET


def test_the_gain_that_is_judged_rests_on_its_two_weights_and_says_over_how_long():
    review = reviewed("72 h: 3300 g; 11 d: 3340 g")
    (measure,) = review.measures["unanswered_gain_g_per_day"]
    assert round(measure.value, 2) == 5.0
    assert text(dict(measure.gaps)["gain"]) == "Gaining 5 g/day (3300 g to 3340 g in 8 days)"
    assert len(measure.entry_ids) == 2
    assert measure.figure == review.figures["gain_g_per_day"]
    assert any("Taken over 8" in text(note) for note in measure.figure.working.notes)


@pytest.mark.parametrize(
    ("corrected_d", "name"),
    [
        (None, "unanswered_gain_g_per_day"),
        (1.0, "unanswered_gain_g_per_day"),
        (0.9, "gain_of_preterm_g_per_day"),
    ],
)
def test_before_term_age_a_gain_is_put_to_no_limit_of_term_infants(corrected_d, name):
    case = a_case(BOY, "72 h: 3300 g; 11 d: 3340 g", "12 d")
    age = None
    if corrected_d is not None:
        age = Figure(value=corrected_d, unit="d", working=Working(formula=message("as given")))
    weights = review_weights(case, PARAMETERS, corrected_age=age)
    judged = {"unanswered_gain_g_per_day", "gain_of_preterm_g_per_day"}
    assert name in weights.reviewed.measures
    # The last weight was taken a day before the question: past term age by then or not yet.
    assert ("unanswered_gain_g_per_day" in weights.reviewed.measures) is (
        name in judged - {"gain_of_preterm_g_per_day"}
    )
    assert weights.has_risen
    assert weights.tells is not None


SERIES = "72 h: 3300 g; 5 d: 3360 g; 7 d: 3420 g; 14 d: 3630 g; 15 d: 3660 g"


def span_of(seen, asked_at="20 d"):
    case = a_case(BOY, seen, asked_at)
    course = course_of(case, usable(case), PARAMETERS, None)
    return course.span_of(tuple(one for one in usable(case) if one.age_h >= 72))


def test_the_gain_is_taken_over_the_shortest_time_that_tells_slow_from_brisk():
    found = span_of(SERIES)
    assert found.last.age_h == 360
    case = a_case(BOY, SERIES, "20 d")
    ages = [one.age_h for one in usable(case) if 72 <= one.age_h < found.last.age_h]
    later = [age for age in ages if age > found.first.age_h]
    assert found.first.age_h in ages
    assert later, "a shorter interval must be there and be passed over"
    assert 14 * 24 in later  # one day apart: only the noise of weighing


def test_where_no_time_tells_the_longest_is_taken():
    found = span_of("72 h: 3300 g; 80 h: 3310 g; 100 h: 3320 g", "5 d")
    assert (found.first.age_h, found.last.age_h) == (72, 100)


def test_a_second_weight_of_the_last_instant_is_no_first_one():
    found = span_of("72 h: 3300 g; 100 h: 3320 g; 100 h: 3330 g", "5 d")
    assert found.first.age_h == 72


def test_weights_less_than_a_day_apart_give_no_gain():
    assert span_of("72 h: 3300 g; 95 h: 3340 g", "5 d") is None
    review = reviewed("8 d: 3450 g; 8.5 d: 3470 g", infant="boy, 39+0, vaginal")
    assert {review.not_computed[name] for name in GAIN_FIGURES} == {too_close(PARAMETERS)}


def test_weights_minutes_apart_are_one_weighing_and_the_last_of_them_stands():
    review = reviewed("72 h: 3300 g; 11 d: 3500 g; 264.5 h: 3520 g")
    assert figure(review, "gain_last_g_per_day") == pytest.approx(220 / 8.0208, abs=0.01)


@pytest.mark.parametrize(
    ("scales", "resolution_g"),
    [
        ((), None),
        ((("scale", 10.0),), 10.0),
        ((("scale", None),), None),
        ((("other", 10.0),), None),
    ],
)
def test_the_step_of_a_known_scale_widens_the_gain(scales, resolution_g):
    known = tuple(Scale(name=name, resolution_g=step) for name, step in scales)
    policy = msgspec.structs.replace(POLICY, scales=known)
    case = a_case(BOY, "72 h: 3300 g; 11 d: 3520 g", "12 d")
    plain, own = (
        review_weights(one, PARAMETERS, corrected_age=None).reviewed.figures["gain_g_per_day"]
        for one in (case, msgspec.structs.replace(case, policy=policy))
    )
    widths = [one.high - one.low for one in (plain, own)]
    assert (widths[1] > widths[0]) is (resolution_g is not None)


def test_of_two_scales_the_coarser_step_counts():
    def width(*steps):
        known = tuple(
            Scale(name=name, resolution_g=step)
            for name, step in zip(("fine", "coarse"), steps, strict=True)
        )
        case = a_case(BOY, "72 h: 3300 g on fine; 11 d: 3520 g on coarse", "12 d")
        case = msgspec.structs.replace(case, policy=msgspec.structs.replace(POLICY, scales=known))
        figures = review_weights(case, PARAMETERS, corrected_age=None).reviewed.figures
        return figures["gain_g_per_day"].high - figures["gain_g_per_day"].low

    assert width(1.0, 50.0) == width(50.0, 1.0) == width(50.0, 50.0) > width(1.0, 1.0)


def test_the_noise_of_older_infants_is_taken_without_a_step():
    def width(last_d):
        review = reviewed(f"{last_d - 10} d: 4300 g; {last_d} d: 4600 g", f"{last_d + 1} d")
        found = review.figures["gain_last_g_per_day"]
        return round(found.high - found.low, 6)

    start, whole = PARAMETERS.older_from.value, PARAMETERS.older_whole_from.value
    assert PARAMETERS.older_noise != PARAMETERS.noise
    assert width(start - 1) == width(start) < width(start + 1) < width(whole - 1) < width(whole)
    assert width(whole) == width(whole + 10)
    assert width(start + 1) < 1.1 * width(start)


def test_a_gain_is_no_loss():
    birth = Weighing(age_h=0, weight_g=3500, is_birth=True)
    later = Weighing(age_h=240, weight_g=3850)
    found = loss_percent(later, birth)
    assert found.value == pytest.approx(-10)
    assert "(birth weight - weight)" in text(found.working.formula)
