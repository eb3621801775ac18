"""What the list says of an infant whom nobody needs: what it rests on, and no more than the judgement."""

from __future__ import annotations

import msgspec
import pytest

from people import an_id
from spec.vignette import BORN_AT, age_of, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.calm import settled
from suffice.assess.results import Act, Tier, Verdict, WeightRow
from suffice.clinical.working import Figure, Working
from suffice.inference.estimate import Caution
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import message
from unit.assess.test_ranking import NOW, a_finding, an_infant, ranked


def weighed_at(age_h: float) -> WeightRow:
    return WeightRow(entry_id=an_id("one"), at=NOW, age_h=age_h, weight_g=4700.0)


@pytest.mark.parametrize(
    ("low", "begins"),
    [(-3.0, "Nothing looks wrong;"), (-0.5, "Nothing looks wrong;"), (0.0, "Nothing looks wrong;"),
     (0.1, "Doing well:"), (20.0, "Doing well:")],
)  # fmt: skip
def test_a_gain_is_said_to_be_one_only_where_its_whole_interval_is(low, begins):
    gain = Figure(
        value=30.0, low=low, high=45.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    infant = msgspec.structs.replace(an_infant(), figures={"gain_g_per_day": gain})
    assert in_sentences(ranked(infant).reason).startswith(begins)


@pytest.mark.parametrize(
    ("is_since_birth", "words"),
    [(True, "gaining 30 g/day since birth (90 %"), (False, "gaining 30 g/day (90 %")],
)
def test_a_gain_that_is_counted_from_birth_says_so(is_since_birth, words):
    gain = Figure(
        value=30.0, low=20.0, high=45.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    infant = msgspec.structs.replace(
        an_infant(), figures={"gain_g_per_day": gain}, is_gain_since_birth=is_since_birth
    )
    assert words in in_sentences(ranked(infant).reason)


@pytest.mark.parametrize(
    ("seen", "is_since_birth"),
    [
        ("14 d: 3500 g; 14 d: 7 wets in 24 h", True),
        ("4 d: 3150 g; 14 d: 3500 g", False),
        ("14 d: 3500 g; 28 d: 3950 g", False),
    ],
)
def test_it_is_counted_from_birth_where_no_later_weight_is_lower(seen, is_since_birth):
    record = record_of("girl, 39+4, 3300 g, vaginal", seen)
    found = assess(record, BORN_AT + age_of("29 d"), load(), Policy(), engine=False)
    assert found.infants[0].is_gain_since_birth is is_since_birth


def test_nobody_is_called_well_by_a_weight_that_the_engine_doubts():
    infant = msgspec.structs.replace(an_infant(short=0.02), figures={})
    infant.estimate.cautions = (
        Caution(code="last-weight-suspect", severity="caution", sentence="x"),
    )
    found = ranked(infant)
    assert found.tier is Tier.LOOK_AGAIN
    assert in_sentences(found.reason).startswith(
        "The last weight does not fit the others: weigh again today, naked."
    )


def test_what_a_rule_asks_to_be_looked_at_is_said_before_a_doubted_weight():
    infant = an_infant(a_finding("few_wets", "look"), short=0.02)
    infant.estimate.cautions = (
        Caution(code="last-weight-suspect", severity="caution", sentence="x"),
    )
    found = ranked(infant)
    assert found.tier is Tier.LOOK_AGAIN
    assert not in_sentences(found.reason).startswith("The last weight")


@pytest.mark.parametrize(
    ("kind", "begins"),
    [("enough", "Doing well:"), ("probably enough", "Doing well:"), ("usual", "Doing well:"),
     ("cannot tell", "Nothing to act on now:"), ("not known", "Nothing to act on now:")],
)  # fmt: skip
def test_the_list_does_not_say_doing_well_where_the_judgement_cannot_tell(kind, begins):
    gain = Figure(
        value=29.0, low=19.0, high=40.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    act = Act(says=message("Nothing before Monday"), tier=Tier.SETTLED)
    judged = Verdict(kind=kind, headline=message("x"), act=act)
    infant = msgspec.structs.replace(an_infant(), figures={"gain_g_per_day": gain}, verdict=judged)
    assert in_sentences(ranked(infant).reason).startswith(begins)


@pytest.mark.parametrize(
    ("unasked", "ends"),
    [((), "(90 %: 10 to 45)."),
     (("output", "feeds"), "Weight only: ask about diapers and feeds."),
     (("output",), "Ask about diapers."), (("feeds",), "Ask about feeds.")],
)  # fmt: skip
def test_it_is_said_what_nobody_asked_beside_the_weight(unasked, ends):
    gain = Figure(
        value=30.0, low=10.0, high=45.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    infant = msgspec.structs.replace(
        an_infant(), figures={"gain_g_per_day": gain}, unasked=unasked, weights=(weighed_at(900.0),)
    )
    assert in_sentences(ranked(infant).reason).endswith(ends)


def test_a_gain_that_is_sure_is_what_the_calm_rests_on():
    gain = Figure(
        value=30.0, low=10.0, high=45.0, level=0.9, unit="g/d", working=Working(formula="given")
    )
    infant = msgspec.structs.replace(
        an_infant(), figures={"gain_g_per_day": gain}, weights=(weighed_at(900.0),)
    )
    assert in_sentences(settled(infant)) == in_sentences(ranked(infant).reason)


WEIGHED = "14 d: 3600 g; 28 d: 4150 g; 42 d: 4700 g"


@pytest.mark.parametrize(
    ("seen", "unasked"),
    [("", ("output", "feeds")), ("42 d: 7 wets in 24 h", ("feeds",)),
     ("42 d: count of 9 feeds", ("output",)), ("43 d: yellow stool; 43 d: feed", ()),
     # As long before the last weight as a weight of that age stands.
     ("28 d: wet; 28 d: feed", ()), ("27.9 d: wet; 27.9 d: feed", ("output", "feeds"))],
)  # fmt: skip
def test_what_was_asked_about_the_time_of_the_last_weight_counts(seen, unasked):
    record = record_of("boy, 40+0, 3500 g, vaginal", f"{WEIGHED}; {seen}")
    for asked_at in ("43.5 d", "55 d"):
        [infant] = assess(
            record, BORN_AT + age_of(asked_at), load(), Policy(zone="UTC"), engine=False
        ).infants
        assert infant.unasked == unasked


@pytest.mark.parametrize(
    ("seen", "ends"),
    [("17 d: wet", "Ask about wets, stools and feeds."),
     ("17 d: wet; 17 d: feed", "Wets and stools not counted in 24 h."),
     ("18 d: 6 wets in 24 h; 18 d: 4 stools in 24 h", "Ask about feeds.")],
)  # fmt: skip
def test_what_was_not_counted_and_not_asked_is_one_question(seen, ends):
    record = record_of("boy, 40+0, 3500 g, vaginal", f"8 d: 3500 g; 18 d: 3860 g; {seen}")
    at = BORN_AT + age_of("18.1 d")
    reason = assess(record, at, load(), Policy(zone="UTC"), engine=False).rank.reason
    assert in_sentences(reason).endswith(ends)


def test_in_the_first_week_what_is_lacking_is_a_flag_and_not_said_again():
    record = record_of("boy, 40+0, 3500 g, vaginal", "60 h: 3320 g; 166 h: 3400 g")
    at = BORN_AT + age_of("167 h")
    [infant] = assess(record, at, load(), Policy(zone="UTC"), engine=False).infants
    assert infant.unasked == ()


THRIVING = "14 d: 3450 g; 28 d: 3950 g; 60 d: 5000 g; 88 d: 5700 g"


@pytest.mark.parametrize(
    ("more", "begins", "headline"),
    [
        ("", "Doing well:", "Probably enough"),
        (
            "; 88 d: discharged",
            "Care ended on Fri 29 May; nothing is open.",
            "Care ended on Fri 29 May",
        ),
        (
            "; 87 d: sign vomit_forceful; 87 d: known vomit-forceful until 130 d; 88 d: discharged",
            "Nothing new. Known to a physician:",
            "Care ended on Fri 29 May",
        ),
    ],
    ids=["in care", "discharged", "discharged, a physician goes on"],
)
def test_a_family_whose_care_has_ended_is_not_said_to_do_well(more, begins, headline):
    record = record_of("girl, 39+3, 3300 g, vaginal", THRIVING + more)
    found = assess(record, BORN_AT + age_of("89 d"), load(), Policy(zone="UTC"), engine=False)
    assert in_sentences(found.rank.reason).startswith(begins)
    assert in_sentences([found.infants[0].verdict.headline]).startswith(headline)
