"""The course of a weight: each weight beside those before it, and what still stands."""

from __future__ import annotations

import msgspec
import pytest

from spoken import text
from suffice.assess.case import Case
from suffice.assess.review.course import Course, course_of, since_then, worst_of
from suffice.assess.review.loss import is_fed_formula_only, is_late_preterm
from suffice.assess.review.rising import review_course
from suffice.knowledge.policy import Policy, Scale
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, present, values

BOY = "boy, 39+0, 3500 g, vaginal"


def a_course(seen: str, infant: str = BOY, asked_at: str = "40 d") -> Course:
    return course_of(a_case(infant, seen, asked_at), PARAMETERS)


def reviewed(seen: str, infant: str = BOY, asked_at: str = "40 d"):
    return review_course(a_case(infant, seen, asked_at), PARAMETERS)


def test_each_weight_has_the_lowest_of_those_that_lie_half_a_day_before_it():
    first, near, last = a_course("48 h: 3300 g; 54 h: 3250 g; 72 h: 3350 g").marks
    assert (first.lowest, near.lowest) == (None, None)
    assert last.lowest is not None
    assert (last.lowest.weight_g, last.rise_g) == (3250, 100)
    assert last.gain_g_per_day == pytest.approx(100 / 0.75)
    assert last.previous == near.weight


def test_a_clothed_weight_counts_only_where_it_is_lower_than_the_one_before():
    course = a_course("48 h: 3300 g; 60 h: 3400 g clothed; 72 h: 3250 g clothed; 84 h: 3280 g")
    assert [mark.weight.weight_g for mark in course.marks] == [3300, 3250, 3280]


def test_a_rise_is_more_than_82_g_and_from_two_months_on_more_than_191():
    """1.645 times an SD of 50 g (Alsop and Shields 1994), and of 116 g from two months."""
    marks = a_course("48 h: 3300 g; 96 h: 3382 g; 97 h: 3383 g").marks
    course = a_course("48 h: 3300 g; 96 h: 3382 g; 97 h: 3383 g")
    assert [course.is_risen(mark) for mark in marks] == [False, False, True]
    older = a_course("14 d: 4000 g; 62 d: 4191 g; 63 d: 4192 g", asked_at="64 d")
    assert [older.is_risen(mark) for mark in older.marks] == [False, False, True]


def test_a_coarse_scale_widens_what_weighing_errs_and_a_fine_one_does_not_narrow_it():
    def noise_g(step_g: float) -> float:
        case = a_case(BOY, "48 h: 3300 g; 96 h: 3400 g", "5 d")
        scales = (Scale(name="scale", resolution_g=step_g),)
        policy = Policy(zone="UTC", scales=scales)
        course = course_of(_with(case, policy), PARAMETERS)
        return course.noise_g(course.marks[0].weight, course.marks[1].weight)

    assert noise_g(1) == noise_g(10) == 82
    # sqrt(35^2 + 100^2 / 12) x sqrt(2) x 1.645
    assert noise_g(100) == pytest.approx(105.5, abs=0.1)


def _with(case: Case, policy: Policy) -> Case:
    return msgspec.structs.replace(case, policy=policy)


def test_birth_weight_reached_again_or_as_good_as_reached_ends_what_was_before():
    def losses(seen: str) -> list[float]:
        return [mark.lost for mark in a_course(seen).below]

    assert losses("72 h: 3150 g; 12 d: 3500 g") == []
    assert losses("72 h: 3150 g; 12 d: 3418 g") == []
    assert losses("72 h: 3150 g; 12 d: 3417 g") == [10.0, 2.4]
    assert losses("72 h: 3150 g; 12 d: 3510 g; 14 d: 3325 g") == [5.0]
    # 3440 g lies near birth weight, and did not come from below.
    assert losses("48 h: 3440 g") == [1.7]


def test_an_answer_counts_from_its_time_back_and_only_a_physicians():
    def answered(who: str) -> list[bool]:
        seen = f"48 h: 3200 g; 60 h: 3190 g; 60 h: answer {who}; 61 h: 3185 g"
        return [mark.is_answered for mark in a_course(seen).marks]

    assert answered("physician") == answered("hospital") == [True, True, False]
    assert answered("midwife") == [False, False, False]


def test_the_first_line_that_a_weight_lies_beyond_decides_which_is_worst():
    course = a_course("24 h: 3270 g; 48 h: 3205 g")
    look, watch = "weight_loss.look_vaginal_percent", "weight_loss.watch_vaginal_percent"
    worst = worst_of(course, course.marks, look, watch)
    assert worst is course.marks[0]
    # 8.4 % at 48 h lies beyond the lower line only, 5.2 % at 24 h beyond none.
    course = a_course("24 h: 3318 g; 48 h: 3205 g")
    assert worst_of(course, course.marks, look, watch) is course.marks[1]
    assert worst_of(course, (), look, watch) is None
    assert worst_of(course, course.marks, "weight_loss.high_late_percent") is None


@pytest.mark.parametrize(
    ("needs_answer", "says"),
    [
        (True, "No physician has answered since; the last weight is 3200 g, at 60 h."),
        (False, "The last weight, 3200 g at 60 h, does not clear it."),
    ],
)
def test_what_rests_on_an_earlier_weight_says_what_the_last_one_was(needs_answer, says):
    course = a_course("48 h: 3150 g; 60 h: 3200 g")
    first, last = course.marks
    (said,) = since_then(course, first, needs_answer=needs_answer)
    assert text(said).replace("\N{NO-BREAK SPACE}", " ") == says
    assert list(since_then(course, last, needs_answer=needs_answer)) == []


def test_without_weights_nothing_is_said_and_without_birth_weight_only_the_course():
    assert reviewed("10 h: wet").measures == {}
    review = reviewed("72 h: 3300 g; 110 h: 3280 g", "boy, 39+0, vaginal")
    assert review.measures == {}
    assert present(review) == {"not_rising_birth_weight_unknown", "latest_weight_is_lowest"}


def test_lines_go_by_mode_and_gestation_and_where_the_mode_is_not_known_both_hold():
    def early(infant: str) -> set[str]:
        names = values(reviewed("48 h: 3200 g", infant)).keys()
        return {one for one in names if "vaginal" in one or "caesarean" in one or "preterm" in one}

    assert early(BOY) == {"vaginal_loss_percent"}
    assert early("boy, 3500 g, assisted vaginal") == {"vaginal_loss_percent"}
    assert early("boy, 40+0, 3500 g, caesarean") == {"caesarean_loss_percent"}
    assert early("boy, 40+0, 3500 g") == {"vaginal_loss_percent", "caesarean_loss_percent"}
    assert early("boy, 38+6, 3500 g, vaginal") == {"early_term_vaginal_loss_percent"}
    assert early("boy, 36+6, 3500 g, vaginal") == {"late_preterm_loss_percent"}
    assert early("boy, 33+6, 3500 g, vaginal") == {"vaginal_loss_percent"}


def test_gestation_that_is_not_known_is_not_late_preterm():
    assert not is_late_preterm(a_course("48 h: 3200 g", "boy, 3500 g, vaginal"))
    assert is_late_preterm(a_course("48 h: 3200 g", "boy, 34+0, 3500 g, vaginal"))


@pytest.mark.parametrize(
    ("seen", "is_fed"),
    [
        ("10 h: wet", False),
        ("10 h: feed of 20 mL formula", True),
        ("10 h: feed of 20 mL formula; 12 h: test weight 3400 to 3420 g", False),
        ("10 h: feed of 20 mL formula; 12 h: 4 feeds in 12 h", False),
    ],
)
def test_formula_only_is_what_was_seen_and_nothing_else(seen, is_fed):
    assert is_fed_formula_only(a_case(BOY, seen, "3 d")) is is_fed


def test_signs_of_the_return_to_birth_weight_are_there_while_it_is_not_reached():
    review = reviewed("72 h: 3200 g; 14 d: 3400 g")
    assert "not_regained" in present(review)
    assert {"regain_within_noise", "gain_since_lowest_unknown"} <= absent(review)
    near = reviewed("72 h: 3200 g; 14 d: 3450 g")
    assert "regain_within_noise" in present(near)
    back = reviewed("72 h: 3200 g; 14 d: 3500 g")
    assert not {"not_regained", "regain_within_noise"} & (present(back) | absent(back))


def test_an_early_term_line_lies_one_point_below_the_other():
    content = a_case(BOY, "10 h: wet", "3 d").content
    for mode in ("vaginal", "caesarean"):
        for line in ("watch", "look"):
            term = content.table(f"weight_loss.{line}_{mode}_percent")
            early = content.table(f"weight_loss.{line}_early_term_{mode}_percent")
            for hour in range(0, 96, 3):
                assert early.at(hour).value == pytest.approx(term.at(hour).value - 1)
