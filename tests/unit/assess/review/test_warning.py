"""Temperature and illness, of the infant and of the parent, before the table."""

from __future__ import annotations

import pytest

from spec.vignette import record_of
from suffice.assess.review.warning import (
    PARENT_WORDS,
    _lumps,
    parent_facts,
    review_warnings,
)
from suffice.clinical.entry import about
from suffice.knowledge.policy import Policy
from suffice.message import Instant
from unit.assess.review.reviewed import (
    CONTENT,
    PARAMETERS,
    a_case,
    absent,
    instant,
    present,
    values,
)

BOY = "boy, 39+0, 3500 g, vaginal"


def reviewed(seen, asked_at, infant=BOY):
    case = a_case(infant, seen, asked_at)
    return review_warnings(case, PARAMETERS)


@pytest.mark.parametrize("asked_at", ["19.1 d", "33 d"])
def test_a_temperature_counts_until_it_is_answered(asked_at):
    assert values(reviewed("19 d: 38.6 °C", asked_at)) == {
        "young_highest_temperature_c": [38.6],
        "young_lowest_temperature_c": [38.6],
        "lowest_temperature_c": [38.6],
        "young_last_temperature_c": [38.6],
    }
    answered = reviewed("19 d: 38.6 °C; 19.05 d: answer physician", asked_at)
    assert values(answered) == {"young_last_temperature_c": [38.6]}


def test_of_several_temperatures_the_highest_and_the_lowest_count():
    review = reviewed("19 d: 38.6 °C; 19.2 d: 35.1 °C; 19.5 d: 36.9 °C", "19.6 d")
    assert values(review) == {
        "young_highest_temperature_c": [38.6],
        "young_lowest_temperature_c": [35.1],
        "lowest_temperature_c": [35.1],
        "young_last_temperature_c": [36.9],
    }
    assert review.measures["young_last_temperature_c"][0].at == instant("19.5 d")
    assert review.figures["temperature_c"].value == 36.9


def test_before_and_after_the_age_of_the_emergency_each_has_its_highest():
    review = reviewed("80 d: 37.0 °C; 90 d: 38.4 °C; 92 d: 38.0 °C; 95 d: 39.5 °C", "190 d")
    assert values(review)["young_highest_temperature_c"] == [38.4]
    assert values(review)["middle_highest_temperature_c"] == [39.5]
    assert "young_last_temperature_c" not in values(review)
    assert values(review)["later_last_temperature_c"] == [39.5]
    assert values(reviewed("184 d: 39.1 °C", "190 d"))["older_highest_temperature_c"] == [39.1]


def test_an_infant_of_unknown_age_is_taken_for_a_newborn():
    review = reviewed("60 h: 38.0 °C", "61 h", infant="nobody knows")
    assert review.measures["young_highest_temperature_c"][0].age_h == 0.0


def test_without_a_temperature_it_says_so():
    review = reviewed("10 h: wet", "11 h")
    assert values(review) == {}
    assert set(review.not_computed) == {"temperature_c"}


def test_each_illness_that_was_named_and_has_not_ended_is_a_sign_of_its_first_entry():
    seen = "60 h: illness rash; 70 h: illness reflux; 80 h: illness rash"
    review = reviewed(seen, "90 h")
    rash, reflux = review.signs["illness"]
    assert (dict(rash.gaps)["what"], rash.age_h) == ("rash", 60.0)
    assert (dict(reflux.gaps)["what"], reflux.age_h) == ("reflux", 70.0)
    assert present(reviewed(f"{seen}; 85 h: end of illness rash", "90 h")) == {"illness"}


def parents(seen, asked_at, policy=None):
    entries = about(record_of(BOY, seen).entries_at(instant(asked_at), None), None)
    return parent_facts(
        entries, PARAMETERS, policy or Policy(), content=CONTENT, as_of=instant(asked_at)
    )


def test_the_parents_highest_temperature_counts_until_it_is_answered():
    for seen in (
        "55 h: parent 38.9 °C; 60 h: parent 37.0 °C",
        "55 h: parent 37.0 °C; 60 h: parent 38.9 °C",
    ):
        facts = parents(seen, "300 h")
        assert [one.value for one in facts.measures["highest_temperature_c"]] == [38.9]
    answered = parents("60 h: parent 38.9 °C; 61 h: parent answer physician", "84 h").measures
    assert answered.keys() == {"last_temperature_c"}
    assert parents("60 h: parent 38.9 °C; 61 h: answer physician", "84 h").measures
    assert parents("10 h: wet", "84.1 h").measures == {}


@pytest.mark.parametrize("word", ["mother", "parent"])
def test_the_parent_is_called_as_the_clinic_calls_her(word):
    seen = "60 h: parent illness mastitis; 60 h: parent 38.9 °C"
    facts = parents(seen, "61 h", Policy(parent_word=word))
    (illness,) = facts.signs["illness"]
    assert dict(illness.gaps) == {
        "parent": PARENT_WORDS[word],
        "what": "mastitis",
        "at": Instant(instant("60 h")),
    }
    assert dict(facts.measures["highest_temperature_c"][0].gaps) == {"parent": PARENT_WORDS[word]}


@pytest.mark.parametrize(
    ("of_infant", "of_parent", "is_at_risk"),
    [
        ("sugar_risk yes", "", True),
        ("sugar_risk no", "", False),
        ("", "diabetes pregnancy", True),
        ("", "diabetes none", False),
        ("sugar_risk no", "diabetes type_1", True),
        ("sugar_risk yes", "diabetes none", True),
        ("", "diabetes not_known", None),
        ("sugar_risk perhaps", "", None),
        ("", "", None),
    ],
)
def test_a_risk_of_low_sugar_is_what_was_noted_of_either(of_infant, of_parent, is_at_risk):
    seen = "; ".join(
        f"1 h: {who}observed {one}" for who, one in (("", of_infant), ("parent ", of_parent)) if one
    )
    case = a_case(BOY, f"1 h: wet; {seen}" if seen else "1 h: wet", "30 h")
    entries = about(record_of(BOY, seen).entries, None) if seen else ()
    review = review_warnings(case, PARAMETERS, entries)
    known = {True: present(review), False: absent(review)}
    assert is_at_risk is None or "low_sugar_risk" in known[is_at_risk]
    if is_at_risk is None:
        assert "low_sugar_risk" not in known[True] | known[False]


GONE = "40 d: parent sign breast_lump; 42 d: parent no sign breast_lump"


@pytest.mark.parametrize(
    ("seen", "gone"),
    [
        ("42 d: parent no sign breast_lump", []),
        ("40 d: parent sign breast_lump", [False]),
        (GONE, [True]),
        (f"{GONE}; 43 d: parent sign breast_lump", [True, False]),
    ],
)
def test_a_lump_after_one_that_has_gone_is_another_and_one_never_noted_is_none(seen, gone):
    lumps = list(_lumps(record_of(BOY, seen).entries))
    assert [one.gone_at is not None for one in lumps] == gone


@pytest.mark.parametrize(
    ("seen", "is_new"),
    [
        ("7 d: no sign jaundice; 22 d: sign jaundice", True),
        ("6.9 d: no sign jaundice; 22 d: sign jaundice", False),
        ("22 d: sign jaundice", False),
        ("22 d: sign jaundice; 22.5 d: no sign jaundice", False),
        ("10 d: no sign jaundice; 22 d: sign jaundice since 9 d", False),
        ("10 d: no sign jaundice", False),
    ],
)
def test_jaundice_is_new_where_somebody_saw_the_infant_without_it_past_the_first_week(seen, is_new):
    assert ("jaundice_is_new" in present(reviewed(seen, "23 d"))) is is_new
