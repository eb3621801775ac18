"""What was seen in diapers, as signs that stand until what ends them.

Published: the charity's chart of stools (one or two unusual stools are no worry, more are looked into)
and the leaflets' pink stains of days 1 and 2, as the content has them.
"""

from __future__ import annotations

import msgspec
import pytest

from suffice.assess.review.diaper import review_diapers
from suffice.assess.review.result import together
from suffice.clinical.entry import Stool, Wet
from suffice.message import Instant
from unit.assess.review.reviewed import PARAMETERS, a_case, instant, present

GIRL = "girl, 39+0, 3400 g, vaginal"


def reviewed(seen, asked_at="40 d", *, has_risen=False):
    case = a_case(GIRL, seen, asked_at)
    return together(review_diapers(case, PARAMETERS.output, has_risen=has_risen))


@pytest.mark.parametrize(
    ("seen", "signs"),
    [
        ("60 h: wet with urates", {"urates"}),
        ("60 h: wet with urates; 61 h: wet", set()),
        ("60 h: wet with urates; 61 h: 0 wets in 1 h", {"urates"}),
        ("80 h: wet with urates; 81 h: wet; 82 h: wet", {"urates"}),
        ("80 h: wet with urates; 81 h: answer physician", set()),
        ("60 h: pale stool", {"pale_stool"}),
        ("60 h: pale stool; 61 h: yellow stool", {"pale_stool"}),
        ("60 h: pale stool; 61 h: yellow stool; 62 h: green stool", set()),
        ("60 h: pale stool; 61 h: yellow stool; 62 h: pale stool", {"pale_stool", "pale_stools"}),
        (
            "60 h: pale stool; 61 h: pale stool; 62 h: green stool; 63 h: green stool",
            {"pale_stool", "pale_stools"},
        ),
        ("60 h: pale stool; 61 h: pale stool; 62 h: answer physician", set()),
        (
            "60 h: pale stool; 61 h: answer physician; 62 h: pale stool",
            {"pale_stool", "pale_stools"},
        ),
        (
            "60 h: pale stool; 61 h: answer physician; 62 h: green stool; 62.5 h: green stool; 63 h: pale stool",
            {"pale_stool"},
        ),
        ("60 h: red stool; 61 h: yellow stool; 62 h: yellow stool", {"red_stool"}),
        ("60 h: red stool; 61 h: answer hospital", set()),
        ("60 h: red stool; 61 h: answer midwife", {"red_stool"}),
        ("60 h: black stool", {"black_stool", "black_stool_unanswered"}),
        ("60 h: black stool; 61 h: green stool", {"black_stool_unanswered"}),
        (
            "60 h: black stool; 61 h: pale stool",
            {"black_stool", "black_stool_unanswered", "pale_stool"},
        ),
        ("60 h: green stool; 61 h: black stool", {"black_stool", "black_stool_unanswered"}),
        (
            "60 h: brown stool; 61 h: black stool",
            {"black_stool", "black_stool_again", "black_stool_unanswered"},
        ),
        ("60 h: black stool; 61 h: answer physician", set()),
        (
            "60 h: yellow stool; 61 h: black stool; 62 h: yellow stool",
            {"black_stool_again", "black_stool_unanswered"},
        ),
        ("60 h: yellow stool; 61 h: black stool; 62 h: answer physician", set()),
        ("60 h: yellow stool", set()),
        ("60 h: 0 stools in 24 h", set()),
    ],
)
def test_what_was_seen_stands_until_what_ends_it(seen, signs):
    assert present(reviewed(seen)) == signs


@pytest.mark.parametrize(
    ("fact", "signs"),
    [
        (Wet(count=0, over_h=6.0, urates=True), set()),
        (Wet(count=1, over_h=6.0, urates=True), {"urates"}),
        (Stool(count=0, over_h=6.0, colour="red"), set()),
        (Stool(count=1, over_h=6.0, colour="red"), {"red_stool"}),
        (Stool(count=0, over_h=6.0, colour="pale"), set()),
        (Stool(count=0, over_h=6.0, colour="black"), set()),
    ],
)
def test_a_count_of_none_is_no_diaper_in_which_something_was_seen(fact, signs):
    case = a_case(GIRL, "80 h: wet", "81 h")
    (*before, wet) = case.entries
    case = msgspec.structs.replace(case, entries=(*before, msgspec.structs.replace(wet, fact=fact)))
    limits = PARAMETERS.output
    assert present(together(review_diapers(case, limits, has_risen=False))) == signs


def test_a_count_of_none_without_a_stain_is_no_clear_wet():
    case = a_case(GIRL, "60 h: wet with urates; 61 h: wet", "62 h")
    (*before, wet) = case.entries
    none = msgspec.structs.replace(wet, fact=Wet(count=0, over_h=1.0, urates=False))
    case = msgspec.structs.replace(case, entries=(*before, none))
    limits = PARAMETERS.output
    assert present(together(review_diapers(case, limits, has_risen=False))) == {"urates"}


@pytest.mark.parametrize(
    ("weighed", "has_risen", "stands"),
    [("100 h: 3300 g", True, False), ("100 h: 3300 g", False, True), ("70 h: 3300 g", True, True)],
)
def test_later_urates_end_with_clear_wets_and_a_weight_that_has_risen_since(
    weighed, has_risen, stands
):
    seen = f"80 h: wet with urates; 81 h: wet; 82 h: wet; {weighed}"
    assert ("urates" in present(reviewed(seen, has_risen=has_risen))) is stands


def test_of_several_diapers_the_latest_is_the_sign():
    review = reviewed("50 h: wet with urates; 60 h: wet with urates")
    (urates,) = review.signs["urates"]
    assert urates.age_h == 60.0
    assert urates.gaps[0][1].at == instant("60 h")


def test_pale_stools_say_how_many():
    (pale,) = reviewed("50 h: pale stool; 60 h: pale stool").signs["pale_stools"]
    assert dict(pale.gaps)["number"].value == 2.0


def test_of_several_stools_the_sign_is_that_of_the_last_and_names_them_all():
    (red,) = reviewed("60 h: red stool; 70 h: red stool").signs["red_stool"]
    assert red.age_h == 70
    assert dict(red.gaps)["at"] == Instant(instant("70 h"))
    assert len(red.entry_ids) == 2


@pytest.mark.parametrize(
    ("weights", "is_at"),
    [
        ("48 h: 3300 g; 59 h: 3400 g", True),
        ("48 h: 3300 g; 59 h: 3390 g", False),
        ("48 h: 3420 g; 59 h: 3390 g", False),
        ("48 h: 3300 g; 61 h: 3420 g", False),
        ("59 h: 3500 g clothed", False),
        ("", False),
    ],
)
def test_black_at_birth_weight_goes_by_the_last_weight_before_it(weights, is_at):
    seen = "; ".join(one for one in (weights, "60 h: black stool") if one)
    assert ("black_stool_at_birth_weight" in present(reviewed(seen))) is is_at
