"""What the engine may use of an infant's entries."""

from __future__ import annotations

import msgspec
import pytest

from suffice.assess.engine.evidence import evidence_of
from suffice.clinical.entry import Birth, Feed, Stool, TestWeight
from unit.assess.review.reviewed import a_case

BOY = "boy, 39+0, 3500 g, vaginal"


def evidence(seen, asked_at, infant=BOY):
    found = evidence_of(a_case(infant, seen, asked_at))
    assert found is not None
    return found


def with_facts(seen, asked_at, change):
    """The evidence after each fact went through `change`; None leaves the entry out."""
    case = a_case(BOY, seen, asked_at)
    entries = []
    for entry in case.entries:
        fact = change(entry.fact)
        if fact is not None:
            entries.append(msgspec.structs.replace(entry, fact=fact))
    return evidence_of(msgspec.structs.replace(case, entries=tuple(entries)))


def test_without_an_instant_of_birth_there_is_none():
    assert evidence_of(a_case("nobody knows", "20 h: 3400 g", "30 h")) is None


def test_birth_facts_and_ages_in_days_go_over_as_they_are():
    found = evidence("48 h: 3300 g on ward; 60 h: illness rash", "72 h")
    assert (found.now_d, found.birth_weight_g, found.sex) == (3.0, 3500.0, "male")
    assert (found.gestation_days, found.mode, found.illness) == (273, "vaginal", "rash")
    (one,) = found.weights
    assert (one.age_d, one.weight_g, one.scale, one.clothing) == (2.0, 3300.0, "ward", "naked")


def test_a_weight_that_was_written_down_twice_is_one():
    assert len(evidence("48 h: 3300 g; 48 h: 3300 g", "72 h").weights) == 1
    assert len(evidence("48 h: 3300 g; 48 h: 3310 g", "72 h").weights) == 2
    assert len(evidence("48 h: 3300 g on ward; 48 h: 3300 g on home", "72 h").weights) == 2


def feeds(*hours):
    return "; ".join(f"{hour} h: test weight 3300 to 3350 g" for hour in hours)


def test_test_weights_stand_one_by_one_where_feeds_may_be_missing():
    found = evidence(f"{feeds(80, 84)}", "90 h").test_weighings
    assert {(one.transfer_g, one.whole_day, one.feeds_count) for one in found} == {(50.0, False, 1)}
    assert sorted(one.age_d * 24 for one in found) == [80, 84]


def test_a_day_on_which_every_feed_was_weighed_is_one_sum():
    whole = evidence(feeds(*range(72, 97, 3)), "97 h").test_weighings
    last, *rest = whole
    assert last.whole_day
    assert last.age_d * 24 == 96
    assert last.feeds_count == 8  # the one of 72 h lies a whole day back
    assert last.transfer_g == 8 * 50
    assert [(one.whole_day, one.age_d * 24) for one in rest] == [(False, 72)]


def test_before_a_day_of_life_no_day_is_whole():
    found = evidence(feeds(*range(2, 24, 2)), "24 h").test_weighings
    assert not any(one.whole_day for one in found)


@pytest.mark.parametrize(("same_clothes", "is_used"), [(True, True), (None, True), (False, False)])
def test_changed_clothes_make_a_test_weight_useless_and_unknown_ones_do_not(same_clothes, is_used):
    def change(fact):
        if isinstance(fact, TestWeight):
            return msgspec.structs.replace(fact, same_clothes=same_clothes)
        return fact

    found = with_facts(feeds(80), "90 h", change)
    assert len(found.test_weighings) == is_used


@pytest.mark.parametrize(
    ("feed", "expected"),
    [
        (Feed(milk="formula", volume_ml=30), [("formula", 30)]),
        (Feed(milk="expressed", volume_ml=0), [("expressed", 0)]),
        (Feed(milk="formula"), []),
        (Feed(milk="breast", minutes=10), []),
    ],
)
def test_milk_beside_the_breast_goes_over_where_it_was_measured(feed, expected):
    found = with_facts("80 h: wet", "90 h", lambda fact: fact if isinstance(fact, Birth) else feed)
    assert [(one.milk, one.volume_ml) for one in found.milk_given] == expected


def test_counts_over_a_stated_time_go_over_and_single_diapers_do_not():
    found = evidence("80 h: 6 wets in 24 h; 81 h: wet; 82 h: 2 stools in 12 h", "90 h").diapers
    assert [(one.kind, one.count, one.span_d) for one in found] == [
        ("wet", 6, 1.0),
        ("stool", 2, 0.5),
    ]


def test_nobody_counts_before_birth():
    (one,) = evidence("9 h: 2 wets in 24 h", "10 h").diapers
    assert one.span_d * 24 == pytest.approx(9)
    assert evidence("0 h: 2 wets in 24 h", "10 h").diapers == ()


@pytest.mark.parametrize("over_h", [0.0, -3.0])
def test_a_count_over_no_time_says_nothing(over_h):
    found = with_facts(
        "80 h: 2 stools in 12 h",
        "90 h",
        lambda fact: Stool(count=2, over_h=over_h) if isinstance(fact, Stool) else fact,
    )
    assert found.diapers == ()
