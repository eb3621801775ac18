"""Bilirubin values before the table: what stands, and which of them speaks for the jaundice."""

from __future__ import annotations

import pytest

from spoken import in_sentences
from suffice.assess.answered import answers_in
from suffice.assess.review.bilirubin import review_bilirubin, with_bilirubin
from suffice.assess.review.result import together
from suffice.assess.review.sign import signs_seen
from unit.assess.review.reviewed import CONTENT, PARAMETERS, a_case, present, values

BOY = "boy, 39+0, 3400 g, vaginal"
LIGHT = "bilirubin_over_light_line_umol_per_l"
EXCHANGE = "bilirubin_over_exchange_line_umol_per_l"


def seen_in(case):
    return signs_seen(case.entries, case.born_at, CONTENT)


def reviewed(seen, asked_at="6 d", infant=BOY):
    case = a_case(infant, seen, asked_at)
    return together(review_bilirubin(case, PARAMETERS, seen_in(case)))


def test_without_a_value_only_that_is_told():
    review = reviewed("72 h: sign jaundice")
    assert values(review) == {}
    assert present(review) == set()


def test_a_value_is_compared_with_both_lines_of_its_age():
    review = reviewed("72 h: bilirubin 310")
    assert values(review) == {EXCHANGE: [-140], LIGHT: [10]}
    (over,) = review.measures[LIGHT]
    assert over.age_h == 72
    assert [one.value for one in over.figure.working.inputs] == [310, 72]


def test_of_values_that_stand_the_one_furthest_above_its_line_counts_however_late():
    assert values(reviewed("72 h: bilirubin 330; 90 h: bilirubin 210"))[LIGHT] == [30]
    assert values(reviewed("30 h: bilirubin 240; 72 h: bilirubin 300"))[LIGHT] == [27.5]


@pytest.mark.parametrize("answer", ["answer physician", "answer hospital"])
def test_an_answer_after_it_ends_a_value(answer):
    assert values(reviewed(f"72 h: bilirubin 310; 73 h: {answer}")) == {}
    assert values(reviewed(f"71 h: {answer}; 72 h: bilirubin 310"))[LIGHT] == [10]
    # Entered only after the answer was given: nobody was told.
    assert values(reviewed(f"72 h: bilirubin 310 entered 80 h; 73 h: {answer}"))[LIGHT] == [10]


def test_a_value_that_has_fallen_since_an_answer_is_nothing_new_below_the_line_or_under_light():
    answered = "72 h: bilirubin 330; 73 h: answer hospital; 90 h: bilirubin "
    assert values(reviewed("72 h: bilirubin 330; 73 h: answer hospital; 74 h: bilirubin 325")) != {}
    assert values(reviewed(f"{answered}330 under light")) == {}
    assert values(reviewed(f"{answered}331 under light")) != {}
    assert values(reviewed(f"{answered}300")) == {}


def test_an_infant_is_under_light_until_a_value_tells_otherwise():
    under = "under_light_treatment"
    assert under in present(reviewed("72 h: bilirubin 300 under light"))
    # A value that does not tell ends nothing, nor does an answer to everything.
    assert under in present(reviewed("72 h: bilirubin 300 under light; 80 h: bilirubin 250"))
    assert under in present(reviewed("72 h: bilirubin 300 under light; 80 h: answer hospital"))
    ended = reviewed("72 h: bilirubin 300 under light; 80 h: bilirubin 250 without light")
    assert under not in present(ended)


def test_an_answer_that_names_the_flag_ends_light_treatment():
    case = a_case(BOY, "72 h: bilirubin 300 under light; 80 h: answer hospital flag x", "6 d")
    review = together(review_bilirubin(case, PARAMETERS, {}))
    assert "under_light_treatment" not in present(review)
    (then,) = answers_in(case.entries).known_then
    assert then.is_by_name


@pytest.mark.parametrize(
    ("seen", "name"),
    [
        ("23.9 h: bilirubin 60", "bilirubin_of_first_day"),
        ("24 h: bilirubin 60", "bilirubin_clearly_below_line"),
        ("72 h: bilirubin 249", "bilirubin_clearly_below_line"),
        ("72 h: bilirubin 250", "bilirubin_to_be_read"),
    ],
)
def test_the_latest_value_is_one_of_three(seen, name):
    assert present(reviewed(seen)) == {"bilirubin_since_jaundice", name}


def test_without_an_instant_of_birth_a_value_is_to_be_read():
    review = reviewed("72 h: bilirubin 60", infant="nobody knows")
    assert values(review) == {}
    assert "bilirubin_to_be_read" in present(review)


def test_a_value_read_through_the_skin_says_that_blood_decides():
    (over,) = reviewed("72 h: bilirubin 310 skin").measures[LIGHT]
    assert "blood" in in_sentences(over.says)
    assert not reviewed("72 h: bilirubin 310").measures[LIGHT][0].says


@pytest.mark.parametrize(
    ("seen", "is_named"),
    [
        ("72 h: sign jaundice; 80 h: bilirubin 120", True),
        ("72 h: bilirubin 120; 96 h: sign jaundice", True),
        ("72 h: bilirubin 120; 96.1 h: sign jaundice", False),
        ("72 h: sign jaundice", False),
    ],
)
def test_jaundice_names_the_value_that_speaks_for_it(seen, is_named):
    case = a_case(BOY, seen, "6 d")
    named = with_bilirubin(seen_in(case), case, PARAMETERS.bilirubin)
    said = in_sentences(named["jaundice"].says)
    assert ("120" in said) == is_named
    assert ("bilirubin_since_jaundice" in present(reviewed(seen))) == is_named
