"""The words of the strip agree with the sentences of the flags beside them."""

from __future__ import annotations

import pytest

from spec.vignette import BORN_AT, ZONE, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load

BOY = "boy, 39+0, 3400 g, vaginal"
BOTTLES = "; ".join(f"{13 + eighth / 8:.3f} d: 30 mL formula" for eighth in range(1, 9))
OUTPUT = "{at}: 6 wets in 24 h; {at}: 3 stools in 24 h; {at}: count of 9 feeds"


def strip(seen, asked_at, *, engine=False):
    record = record_of(BOY, seen)
    instant = BORN_AT + age_of(asked_at)
    infant = assess(record, instant, load(), Policy(zone=ZONE), engine=engine).infants[0]
    assert infant.verdict is not None
    return infant.verdict


def test_a_clothed_weight_is_no_sign_of_how_far_the_infant_has_come_back():
    output = OUTPUT.format(at="120 h")
    naked = strip(f"72 h: 3055 g; 120 h: 3080 g; {output}", "121 h")
    assert in_sentences(naked.headline).endswith("at 3 days, now 9.4 %")
    clothed = strip(f"72 h: 3055 g; 120 h: 3350 g clothed; {output}", "121 h")
    assert in_sentences(clothed.headline).endswith("below birth weight at 3 days")


@pytest.mark.parametrize(
    ("seen", "asked_at", "act", "then"),
    [
        # Within a day, in the words of the flag; and no 'now' beside an act of tomorrow.
        (f"12 d: 3470 g; {OUTPUT.format(at='27 d')}", "27 d", "Weigh today", ""),
        (f"100 d: 5800 g; {OUTPUT.format(at='200 d')}", "200 d", "Weigh this week", ""),
        (
            f"9 d: 3380 g; {BOTTLES}; 14 d: 6 wets in 24 h; 14 d: 2 stools in 24 h",
            "14 d",
            "See the infant by Tue 17 Mar, 04:00",
            "Weigh when seen: a weight is overdue.",
        ),
    ],
)
def test_the_act_is_as_urgent_as_its_sentence(seen, asked_at, act, then):
    verdict = strip(seen, asked_at)
    assert in_sentences(verdict.act.says) == act
    assert in_sentences(verdict.then) == then


def test_what_is_not_known_is_not_said_to_be_lost():
    told = f"12 d: 3550 g as told; {OUTPUT.format(at='12 d')}"
    verdict = strip(told, "12.1 d", engine=True)
    assert in_sentences(verdict.headline) == "Not known: the weight, which was reported"
    assert in_sentences(verdict.joins).startswith("The engine gives")


def test_the_date_to_weigh_is_that_of_a_weight_in_doubt():
    told = f"5 d: 3250 g as told; 12 d: 3550 g as told; {OUTPUT.format(at='12 d')}"
    record = record_of(BOY, told)
    asked_at = BORN_AT + age_of("12.1 d")
    infant = assess(record, asked_at, load(), Policy(zone=ZONE)).infants[0]
    assert infant.weigh_again is not None
    assert in_sentences(infant.weigh_again.advice) == "Weigh again by Sun 15 Mar."


def test_a_flag_of_what_was_given_is_not_said_to_be_lost():
    at = (13.1, 13.3, 13.5, 13.7, 13.85, 14)
    six = "; ".join(f"{one} d: 30 mL formula" for one in at)
    seen = f"9 d: 3380 g; {six}; 14 d: 5 wets in 24 h; 14 d: 2 stools in 24 h"
    assert in_sentences(strip(seen, "14.05 d", engine=True).joins) == (
        "The finding goes by what was seen or counted:"
        " milk that looks enough by the weights does not end it."
    )
