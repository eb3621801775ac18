"""What nobody knows of an infant, as signs before the table."""

from __future__ import annotations

import pytest

from suffice.assess.review.gap import review_gaps
from suffice.assess.review.result import together
from suffice.assess.review.weight import review_weights
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, present

BOY = "boy, 39+0, 3500 g, vaginal"


def reviewed(infant, seen, asked_at, **more):
    case = a_case(infant, seen, asked_at, **more)
    weights = review_weights(case, PARAMETERS, corrected_age=None)
    gaps = review_gaps(case, weight_is_judged=weights.is_judged)
    return together([weights.reviewed, gaps])


@pytest.mark.parametrize(
    ("infant", "seen", "gaps"),
    [
        (BOY, "10 h: wet", set()),
        (BOY, "10 h: 36.9 °C", {"nothing_seen"}),
        (BOY, "60 h: 3300 g", set()),
        (BOY, "60 h: 3300 g clothed", {"only_clothed_weights"}),
        (BOY, "50 h: 3350 g; 60 h: 3300 g clothed", set()),
        ("boy, 39+0, vaginal", "60 h: 3300 g", {"weight_cannot_be_judged"}),
        ("boy, 39+0, vaginal", "60 h: 3300 g; 9 d: 3500 g", set()),
        (
            "boy, 39+0, vaginal",
            "60 h: 3300 g clothed",
            {"only_clothed_weights", "weight_cannot_be_judged"},
        ),
    ],
)
def test_what_is_missing_is_present_as_a_sign_and_the_rest_is_known_to_be_there(infant, seen, gaps):
    review = reviewed(infant, seen, "10 d")
    everything = {"nothing_seen", "only_clothed_weights", "weight_cannot_be_judged"}
    assert present(review) - {"clothed_weight", "last_weight_is_clothed"} == gaps
    assert everything - gaps <= absent(review)


def test_without_birth_facts_only_that_is_known():
    review = reviewed("nobody knows", "60 h: 3300 g", "70 h")
    assert present(review) == {"birth_is_not_known"}
    assert absent(review) == {"asked_before_birth"}


def test_before_birth_the_birth_is_not_called_unknown():
    review = reviewed(BOY, "10 h: wet", "-2 h", is_before_birth=True)
    assert present(review) == {"asked_before_birth"}
    assert absent(review) == {"birth_is_not_known"}
