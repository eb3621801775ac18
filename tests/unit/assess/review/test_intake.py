"""Milk of one infant: what is needed, what was measured, and the share that is known to be met."""

from __future__ import annotations

import msgspec
import pytest

from spoken import text
from suffice.assess.review.intake import (
    INTAKE_FIGURES,
    known_intake_of,
    review_intake,
    transfer_of,
)
from suffice.clinical.entry import Feed, TestWeight, Wet
from suffice.errors import InputError, RefusalError
from unit.assess.review.reviewed import PARAMETERS, a_case, instant, present

BOY = "boy, 39+0, 3500 g, vaginal"
WEIGHED = "10 d: 3600 g; "


def reviewed(seen, asked_at, infant=BOY, fed=()):
    """The review, and the answers; `fed` takes the places of single wets, in their order."""
    case = a_case(infant, seen, asked_at)
    left = list(fed)
    entries = [
        msgspec.structs.replace(entry, fact=left.pop(0))
        if isinstance(entry.fact, Wet) and left
        else entry
        for entry in case.entries
    ]
    case = msgspec.structs.replace(case, entries=tuple(entries))
    return review_intake(case, PARAMETERS)


def test_without_a_birth_every_figure_says_why_it_is_not_there():
    review, answers = reviewed("10 h: wet", "11 h", infant="nobody knows")
    assert answers == ()
    assert set(INTAKE_FIGURES) <= set(review.not_computed)
    assert review.figures == {}


def test_without_a_weight_only_the_size_of_a_feed_is_known():
    review, answers = reviewed("60 h: wet", "61 h", infant="boy, 39+0, vaginal")
    assert answers == ()
    assert set(review.figures) == {"feed_size_ml"}
    assert set(INTAKE_FIGURES) - {"feed_size_ml"} <= set(review.not_computed)


def test_with_a_weight_every_source_is_asked_and_the_first_that_answers_is_the_need():
    review, answers = reviewed("20 d: 4000 g; 20 d: wet", "20.1 d")
    answered = [one.volume_ml_per_day for one in answers if one.volume_ml_per_day]
    assert review.figures["requirement_ml_per_day"] is answered[0]
    assert "observed_ml_per_day" not in review.figures
    assert len(answers) > 1


def test_before_two_weeks_what_infants_took_is_shown_and_never_as_a_requirement():
    review, answers = reviewed(f"{WEIGHED}10 d: wet", "10.1 d", fed=[GIVEN[0]])
    answered = [one.volume_ml_per_day for one in answers if one.volume_ml_per_day]
    assert review.figures["observed_ml_per_day"] is answered[0]
    assert not {"requirement_ml_per_day", "share_met_percent"} & set(review.figures)
    for name in ("requirement_ml_per_day", "share_met_percent"):
        assert "before 14 days" in text(review.not_computed[name])


def test_an_infant_fed_formula_alone_is_asked_by_the_line_of_the_formula_fed():
    """FAO 2004: 82.6 kcal a kg and -29 for formula, 92.8 and -152 at the breast."""
    seen = "40 d: 4500 g; 40 d: wet"
    by_formula, _ = reviewed(seen, "40.1 d", fed=[GIVEN[0]])
    at_the_breast, _ = reviewed(seen, "40.1 d", fed=[GIVEN[3]])
    more = 82.6 * 4.5 - 29 - (92.8 * 4.5 - 152)
    kcal = "requirement_kcal_per_day"
    assert by_formula.figures[kcal].value - at_the_breast.figures[kcal].value == pytest.approx(more)
    ml = "requirement_ml_per_day"
    assert by_formula.figures[ml].value > at_the_breast.figures[ml].value + 60


def test_at_seven_months_no_need_of_milk_is_asserted():
    review, answers = reviewed("213 d: 8300 g", "213.1 d")
    assert "requirement_ml_per_day" not in review.figures
    assert "solids" in text(review.not_computed["requirement_ml_per_day"])
    assert any(one.volume_ml_per_day for one in answers)
    assert "requirement_kcal_per_day" in review.figures


# The first days are observed and not required: no source gives a need from which a share follows.
def test_where_no_source_gives_a_need_its_reason_stands_for_the_share_too():
    review, answers = reviewed("30 h: 3400 g", "31 h", infant="boy, 28+0, 900 g, vaginal")
    answered = [one for one in answers if one.volume_ml_per_day]
    assert answered == []
    why = review.not_computed["requirement_ml_per_day"]
    assert review.not_computed["share_met_percent"] == why


def test_a_test_weight_gives_its_transfer_and_the_sum_of_a_day():
    review, _ = reviewed(
        f"{WEIGHED}10 d: test weight 3600 to 3650 g; 10.2 d: test weight 3610 to 3640 g", "10.3 d"
    )
    weighed = TestWeight(before_g=3610, after_g=3640, minutes=15, same_clothes=True)
    last = transfer_of(weighed, PARAMETERS).volume_ml.value
    first = transfer_of(msgspec.structs.replace(weighed, before_g=3600, after_g=3650), PARAMETERS)
    assert review.figures["transfer_ml"].value == last
    assert review.figures["transfers_24h_ml"].value == pytest.approx(last + first.volume_ml.value)


def test_a_test_weight_of_more_than_a_day_ago_is_the_last_and_in_no_sum():
    review, _ = reviewed(f"{WEIGHED}10 d: test weight 3600 to 3650 g", "11.01 d")
    assert "transfer_ml" in review.figures
    assert "transfers_24h_ml" not in review.figures
    assert "transfers_24h_ml" in review.not_computed


def test_without_any_test_weight_neither_is_there():
    review, _ = reviewed(WEIGHED + "10 d: wet", "10.1 d")
    assert {"transfer_ml", "transfers_24h_ml"} <= set(review.not_computed)


CHANGED = TestWeight(before_g=3600, after_g=3650, same_clothes=False)


def test_changed_clothes_are_refused_and_left_out_of_the_sum():
    review, _ = reviewed(f"{WEIGHED}10 d: wet", "10.1 d", fed=[CHANGED])
    assert {"transfer_ml", "transfers_24h_ml"} <= set(review.not_computed)
    review, _ = reviewed(
        f"{WEIGHED}10 d: test weight 3600 to 3650 g; 10.05 d: wet", "10.1 d", fed=[CHANGED]
    )
    assert "transfer_ml" in review.not_computed
    alone, _ = reviewed(f"{WEIGHED}10 d: test weight 3600 to 3650 g", "10.1 d")
    assert review.figures["transfers_24h_ml"].value == alone.figures["transfer_ml"].value


def test_one_test_weight_is_refused_by_its_own_faults():
    with pytest.raises(RefusalError, match="TEST-003"):
        transfer_of(CHANGED, PARAMETERS)
    with pytest.raises(InputError, match="TEST-00"):
        transfer_of(TestWeight(before_g=-1, after_g=3650), PARAMETERS)


def test_a_doubtful_test_weight_is_a_sign():
    review, _ = reviewed(f"{WEIGHED}10 d: test weight 3600 to 3560 g", "10.1 d")
    assert "test_weight_doubt" in present(review)
    review, _ = reviewed(f"{WEIGHED}10 d: test weight 3600 to 3650 g", "10.1 d")
    assert "test_weight_doubt" not in present(review)


GIVEN = [
    Feed(milk="formula", volume_ml=30),
    Feed(milk="expressed", volume_ml=20),
    Feed(milk="formula", volume_ml=25),
    Feed(milk="breast", minutes=10),
    Feed(milk="formula"),
]


def test_milk_given_is_summed_by_kind_over_a_day():
    seen = f"{WEIGHED}10 d: wet; 10.1 d: wet; 10.2 d: wet; 10.3 d: wet; 10.4 d: wet"
    review, _ = reviewed(seen, "10.5 d", fed=GIVEN)
    figure = review.figures["milk_given_24h_ml"]
    assert figure.value == 75
    assert [one.value for one in figure.working.inputs] == [20, 55]
    review, _ = reviewed(seen, "11.15 d", fed=GIVEN)  # the first two lie more than a day back
    assert review.figures["milk_given_24h_ml"].value == 25
    review, _ = reviewed(seen, "12 d", fed=GIVEN)
    assert "milk_given_24h_ml" in review.not_computed


def test_the_share_is_of_what_was_measured_and_missing_where_nothing_was():
    weighed = "20 d: 4000 g; 20 d: wet"
    review, _ = reviewed(weighed, "20.1 d", fed=[GIVEN[0]])
    need = review.figures["requirement_ml_per_day"].value
    share = review.figures["share_met_percent"]
    assert share.value == pytest.approx(100 * 30 / need, abs=0.5)
    review, _ = reviewed(weighed, "20.1 d")
    assert "share_met_percent" in review.not_computed


def test_what_is_known_of_a_day_is_asked_at_any_instant():
    case = a_case(BOY, f"{WEIGHED}10 d: test weight 3600 to 3650 g", "10.1 d")
    assert known_intake_of(case, instant("10.1 d"), PARAMETERS).volume_ml is not None
    assert known_intake_of(case, instant("9 d"), PARAMETERS).volume_ml is None
