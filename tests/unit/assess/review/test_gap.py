"""What nobody knows of an infant, as signs before the table."""

from __future__ import annotations

import pytest

from spoken import in_sentences
from suffice.assess.review.gap import (
    COUNTS as OF_COUNTS,
)
from suffice.assess.review.gap import (
    WEIGHT,
    review_gaps,
    review_horizons,
    stands_until,
)
from suffice.assess.review.output import Gained, review_output
from suffice.assess.review.result import together
from suffice.assess.review.weight import review_weights
from suffice.assess.rules.truth import Truth
from suffice.message import Ago, message
from unit.assess.review.reviewed import PARAMETERS, a_case, absent, instant, present

BOY = "boy, 39+0, 3500 g, vaginal"
NO_BIRTH_FACTS = "birth_facts_missing"


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
        ("boy, 39+0, vaginal", "60 h: 3300 g", {"weight_cannot_be_judged", NO_BIRTH_FACTS}),
        ("boy, 39+0, vaginal", "60 h: 3300 g; 9 d: 3500 g", {NO_BIRTH_FACTS}),
        (
            "boy, 39+0, vaginal",
            "60 h: 3300 g clothed",
            {"only_clothed_weights", "weight_cannot_be_judged", NO_BIRTH_FACTS},
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


NOT_KNOWN = {"weight_not_known", "output_not_known", "feeds_not_known"}
COUNTS = "4 wets in 24 h", "3 stools in 24 h", "9 feeds in 24 h"


def not_known(seen, asked_at, infant=BOY, *, is_discharged=False):
    case = a_case(infant, seen, asked_at)
    output = review_output(case, PARAMETERS, Gained())
    weights = review_weights(case, PARAMETERS, corrected_age=None).reviewed
    gain = weights.figures.get("gain_g_per_day")
    return review_horizons(case, PARAMETERS, output, gain, is_discharged=is_discharged)


def counted(age, *which):
    return "; ".join(f"{age}: {one}" for one in which or COUNTS)


@pytest.mark.parametrize(
    ("seen", "asked_at", "missing"),
    [
        (counted("30 h"), "31 h", set()),
        (counted("30 h"), "47.9 h", set()),
        (counted("47 h"), "48.1 h", {"weight_not_known"}),
        (counted("30 h"), "54.5 h", NOT_KNOWN),
        (f"30 h: 3400 g; {counted('30 h', 'feed')}", "31 h", {"output_not_known"}),
        (f"30 h: 3400 g; {counted('30 h', *COUNTS[:2])}", "31 h", {"feeds_not_known"}),
        (f"30 h: 3400 g; {counted('30 h', *COUNTS[1:])}", "31 h", {"output_not_known"}),
        ("6 h: wet", "23.9 h", set()),
        ("6 h: wet", "24.1 h", {"output_not_known", "feeds_not_known"}),
        ("6 d: 3400 g", "8.1 d", NOT_KNOWN),
        ("6 d: 3400 g; 7.1 d: 3430 g", "8.1 d", set()),
        ("3 d: 3300 g; 8 d: 3420 g", "12.1 d", {"weight_not_known"}),
        ("3 d: 3300 g; 15 d: 3420 g", "19.9 d", set()),
        ("3 d: 3300 g; 15 d: 3420 g", "20 d", {"weight_not_known"}),
        ("3 d: 3300 g; 5 d: 3510 g; 8 d: 3600 g", "21.9 d", set()),
        ("3 d: 3300 g; 5 d: 3510 g; 8 d: 3600 g", "22.1 d", {"weight_not_known"}),
        ("3 d: 3300 g; 40 d: 4600 g", "53.9 d", set()),
        ("3 d: 3300 g; 40 d: 4600 g", "54.1 d", {"weight_not_known"}),
        ("3 d: 3300 g; 92 d: 6000 g", "119.9 d", set()),
        ("3 d: 3300 g; 92 d: 6000 g", "120.1 d", {"weight_not_known"}),
        ("3 d: 3300 g; 30 d: 3400 g", "44.1 d", {"weight_not_known"}),
        ("3 d: 3300 g; 100 d: 3400 g", "127.9 d", set()),
        ("3 d: 3300 g; 100 d: 6000 g; 120 d: 6500 g clothed", "128.1 d", {"weight_not_known"}),
    ],
)
def test_what_is_too_old_to_be_calm_by_is_not_known(seen, asked_at, missing):
    assert present(not_known(seen, asked_at)) == missing


def test_it_counts_as_of_the_age_at_which_it_became_unknown_however_old_the_infant_grows():
    signs = not_known("5 d: 3400 g; 5 d: 9 feeds in 24 h", "20 d").signs
    assert signs["weight_not_known"][0].age_h == 7 * 24
    assert signs["feeds_not_known"][0].age_h == 6 * 24
    assert all(one[0].lasts for one in signs.values())


def test_as_many_diapers_as_are_expected_are_enough_though_more_may_be_missing():
    stools = "66 h: yellow stool; 70 h: yellow stool; 74 h: yellow stool"
    wets = "60 h: wet; 63 h: wet; 68 h: wet; 72 h: wet"
    assert "output_not_known" not in present(not_known(f"{stools}; {wets}", "75 h"))
    assert "output_not_known" in present(not_known(f"{stools}; 60 h: wet", "75 h"))


def test_whoever_is_discharged_is_not_asked_and_neither_is_an_infant_without_an_age():
    assert not_known("3 d: 3300 g", "30 d", is_discharged=True).signs == {}
    assert not_known("3 d: 3300 g", "30 d", infant="nobody knows").signs == {}


@pytest.mark.parametrize(
    ("counts", "unknown"),
    [
        (COUNTS[1:], "Wets"),
        ((COUNTS[0], COUNTS[2]), "Stools"),
        (COUNTS[2:], "Wets and stools"),
        (("0 wets in 23 h", *COUNTS[1:]), "Wets"),
    ],
)
def test_it_is_said_which_of_wets_and_stools_is_not_known(counts, unknown):
    (found,) = not_known(counted("30 h", *counts), "31 h").signs["output_not_known"]
    assert found.present is Truth.TRUE
    assert in_sentences(dict(found.gaps)["unknown"]) == unknown


@pytest.mark.parametrize(
    ("seen", "asked_at", "names", "until"),
    [
        (f"30 h: 3400 g; {counted('30 h')}", "31 h", WEIGHT, "78 h"),
        (f"30 h: 3400 g; {counted('30 h')}", "31 h", OF_COUNTS, "54 h"),
        # Past the first week nobody need count, and a weight of that time is answered for longer.
        ("4 d: 3300 g; 9 d: 3520 g; 13 d: 3650 g", "13.1 d", OF_COUNTS, None),
        ("4 d: 3300 g; 9 d: 3520 g; 13 d: 3650 g", "13.1 d", WEIGHT, "27 d"),
        # It is too old already.
        ("4 d: 3300 g", "20 d", WEIGHT, None),
    ],
)
def test_it_is_told_until_when_what_is_known_stands(seen, asked_at, names, until):
    case = a_case(BOY, seen, asked_at)
    found = stands_until(case, not_known(seen, asked_at), names)
    assert found == (until and instant(until))


@pytest.mark.parametrize(
    ("seen", "weighed"),
    [
        ("5 d: 3400 g", message("Last weighed {ago}", ago=Ago(15 * 24))),
        ("5 d: wet", message("Not weighed since birth")),
    ],
)
def test_it_is_said_how_long_ago_it_was_weighed(seen, weighed):
    (sign,) = not_known(seen, "20 d").signs["weight_not_known"]
    assert dict(sign.gaps)["weighed"] == weighed
