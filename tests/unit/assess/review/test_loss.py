"""Losses of birth weight, each under the name of the line that it is compared with."""

from __future__ import annotations

import pytest

from suffice.assess.review.course import Course, course_of
from suffice.assess.review.loss import is_fed_formula_only, is_late_preterm, review_loss
from suffice.assess.review.result import Reviewed, together
from unit.assess.review.reviewed import PARAMETERS, a_case, values

BOY = "boy, 39+0, 3500 g, vaginal"


def a_course(seen: str, infant: str = BOY, asked_at: str = "40 d") -> Course:
    return course_of(a_case(infant, seen, asked_at), PARAMETERS)


def reviewed(seen: str, infant: str = BOY, asked_at: str = "40 d") -> Reviewed:
    return together(review_loss(a_course(seen, infant, asked_at)))


def test_lines_go_by_mode_and_gestation_and_where_the_mode_is_not_known_both_hold():
    def early(infant: str) -> set[str]:
        names = values(reviewed("48 h: 3200 g", infant)).keys()
        return {one for one in names if "vaginal" in one or "caesarean" in one or "preterm" in one}

    assert early(BOY) == {"vaginal_loss_percent"}
    assert early("boy, 3500 g, assisted vaginal") == {"vaginal_loss_percent"}
    assert early("boy, 40+0, 3500 g, caesarean") == {"caesarean_loss_percent"}
    assert early("boy, 40+0, 3500 g") == {"vaginal_loss_percent", "caesarean_loss_percent"}
    assert early("boy, 38+6, 3500 g, vaginal") == {"early_term_vaginal_loss_percent"}
    early_term = "early_term_vaginal_loss_percent"
    all_three = {"late_preterm_loss_percent", "late_preterm_watch_loss_percent", early_term}
    assert early("boy, 36+6, 3500 g, vaginal") == all_three
    assert early("boy, 33+6, 3500 g, vaginal") == {"early_term_vaginal_loss_percent"}


def test_a_loss_of_the_first_days_is_watched_until_a_later_weight_is_higher():
    late_preterm = "boy, 36+0, 2700 g, vaginal"
    name = "late_preterm_watch_loss_percent"
    assert name in values(reviewed("48 h: 2570 g; 60 h: 2560 g", late_preterm))
    assert name not in values(reviewed("48 h: 2560 g; 60 h: 2650 g", late_preterm))


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


def test_an_early_term_line_lies_one_point_below_the_other():
    content = a_case(BOY, "10 h: wet", "3 d").content
    for mode in ("vaginal", "caesarean"):
        for line in ("watch", "look"):
            term = content.table(f"weight_loss.{line}_{mode}_percent")
            early = content.table(f"weight_loss.{line}_early_term_{mode}_percent")
            for hour in range(0, 96, 3):
                assert early.at(hour).value == pytest.approx(term.at(hour).value - 1)


def test_a_loss_stands_until_a_physician_has_answered_and_the_weight_has_risen():
    def open_loss(seen: str) -> float | None:
        found = values(reviewed(seen)).get("greatest_unanswered_loss_percent")
        return None if found is None else round(found[0], 1)

    assert open_loss("72 h: 3150 g") == 10.0
    assert open_loss("72 h: 3150 g; 96 h: 3220 g") == 10.0
    assert open_loss("72 h: 3150 g; 73 h: answer physician") is None
    assert open_loss("72 h: 3150 g; 73 h: answer midwife") == 10.0
    assert open_loss("72 h: 3150 g; 73 h: answer physician; 96 h: 3140 g") == 10.3
    assert open_loss("72 h: 3150 g; 73 h: answer physician; 96 h: 3220 g") is None


def test_a_severe_loss_that_is_known_and_rises_is_known_and_not_open():
    review = reviewed("72 h: 2980 g; 73 h: answer hospital; 96 h: 3040 g")
    assert [round(one, 1) for one in values(review)["known_severe_loss_percent"]] == [13.1]
    assert "greatest_unanswered_loss_percent" not in values(review)


def test_weights_at_birth_weight_or_above_lose_nothing():
    assert reviewed("72 h: 3500 g; 96 h: 3560 g").measures == {}


def test_small_infants_and_late_first_weights_have_measures_of_their_own():
    small = values(reviewed("60 h: 2250 g", "girl, 39+0, 2450 g, vaginal"))
    assert round(small["small_infant_loss_percent"][0], 1) == 8.2
    assert "small_infant_loss_percent" not in values(reviewed("60 h: 3220 g"))
    late = values(reviewed("110 h: 3250 g", asked_at="111 h"))
    assert round(late["first_late_loss_percent"][0], 1) == 7.1
    assert "first_late_loss_percent" not in values(reviewed("60 h: 3300 g; 110 h: 3250 g"))


def test_a_severe_loss_of_which_nobody_knew_is_not_known_once_it_rises():
    found = values(reviewed("72 h: 3150 g; 73 h: answer physician; 96 h: 2950 g; 120 h: 2980 g"))
    assert [round(one, 1) for one in found["greatest_unanswered_loss_percent"]] == [15.7]
    assert "known_severe_loss_percent" not in found


@pytest.mark.parametrize(
    ("seen", "lost"),
    [
        ("150 h: 3200 g", [8.57]),
        # 36 g a day since the lowest weight, and 13.
        ("110 h: 3150 g; 170 h: 3240 g", []),
        ("110 h: 3150 g; 278 h: 3240 g", [7.43]),
        # On day 5 no gain is brisk enough yet to speak of.
        ("60 h: 3150 g; 110 h: 3240 g", [7.43]),
    ],
)
def test_from_day_6_on_a_loss_is_looked_at_unless_it_is_being_made_up_briskly(seen, lost):
    assert values(reviewed(seen)).get("late_loss_percent", []) == lost


@pytest.mark.parametrize(("grams", "is_severe"), [(3062, True), (3066, False)])
def test_a_known_loss_is_severe_from_its_limit_on(grams, is_severe):
    """12.5 % of 3500 g is 437.5 g."""
    found = values(reviewed(f"72 h: 2980 g; 73 h: answer hospital; 96 h: {grams} g"))
    assert ("known_severe_loss_percent" in found) is is_severe
