"""Signs chosen from the vocabulary: the latest entry decides, silence and age lower nothing."""

from __future__ import annotations

from datetime import timedelta
from uuid import NAMESPACE_OID, uuid5

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spec.vignette import BORN_AT, age_of, entry, record_of
from spoken import in_sentences
from suffice.assess.assessment import assess
from suffice.assess.results import Tier
from suffice.assess.review.sign import NOT_KNOWN, signs_seen
from suffice.assess.rules.truth import Truth
from suffice.clinical.entry import Answer, Birth, Illness, Infant, Record, Sign
from suffice.knowledge.policy import Policy
from suffice.knowledge.store import load
from suffice.message import Age, Instant, message

BOY = "boy, 39+0, 3500 g, vaginal"
CONTENT = load()
SIGNS = CONTENT.vocabularies["signs"]
ONE, TWIN = (Infant(id=uuid5(NAMESPACE_OID, name), position=n) for n, name in enumerate("ab", 1))
ORDER = ["emergency", "physician", "consultant", "look", "note"]
LEVELS = {
    flag.code: ORDER.index(flag.level)
    for flag in CONTENT.flags
    if flag.topic in {"sign", "feeding", "milk"} or flag.when.sign in SIGNS
}
"""Rows about signs of the vocabulary, wherever they stand."""


def an_entry(fact, at, number=1, infant=ONE):
    return entry(ONE, fact, BORN_AT + age_of(at), number, about=infant)


def present(sign, at, number=1, infant=ONE, since=None):
    began = None if since is None else BORN_AT + age_of(since)
    return an_entry(Sign(sign=sign, present=True, since=began), at, number, infant)


def absent(sign, at, number=1, infant=ONE):
    return an_entry(Sign(sign=sign, present=False), at, number, infant)


def a_birth(infant, at="0 h"):
    fact = Birth(zone="UTC", birth_weight_g=3400.0, gestation_days=273)
    return an_entry(fact, at, 1000 + infant.position, infant)


def assessed(entries, asked_at, infants=(ONE,), births=True):
    born = tuple(a_birth(one) for one in infants) if births else ()
    record = Record(
        family_id=uuid5(NAMESPACE_OID, "family"), infants=infants, entries=(*born, *entries)
    )
    as_of = BORN_AT + age_of(asked_at)
    return assess(record, as_of, CONTENT, Policy(zone="UTC"), engine=False)


def codes(findings):
    return {one.code for one in findings} & LEVELS.keys()


def at(age):
    return Instant(BORN_AT + age_of(age))


def test_a_sign_says_when_it_began_at_what_age_and_when_it_was_noted_last():
    entries = [present("limp", "60 h"), present("limp", "70 h", 2)]
    (found,) = signs_seen(entries, BORN_AT, CONTENT).values()
    assert (found.present, found.age_h, found.lasts) == (Truth.TRUE, 60.0, True)
    assert dict(found.gaps) == {
        "what": message("limp"),
        "at": at("60 h"),
        "began": Age(60.0),
    }
    assert found.at == BORN_AT + age_of("60 h")
    assert found.says == (message("Last noted {at}.", at=at("70 h")),)
    assert found.entry_ids == (entries[1].id,)


def test_a_sign_noted_once_does_not_repeat_its_instant():
    assert signs_seen([present("limp", "60 h")], BORN_AT, CONTENT)["limp"].says == ()


@pytest.mark.parametrize(
    ("entries", "age_h"),
    [
        ([present("does_not_wake_for_feeds", "60 h", since="50 h")], 50.0),
        (
            [
                present("does_not_wake_for_feeds", "60 h", since="50 h"),
                present("does_not_wake_for_feeds", "70 h", 2),
            ],
            50.0,
        ),
        (
            [
                present("does_not_wake_for_feeds", "60 h"),
                present("does_not_wake_for_feeds", "70 h", 2, since="40 h"),
            ],
            40.0,
        ),
        (
            [
                present("does_not_wake_for_feeds", "60 h"),
                absent("does_not_wake_for_feeds", "65 h", 2),
                present("does_not_wake_for_feeds", "70 h", 3),
            ],
            70.0,
        ),
        ([present("does_not_wake_for_feeds", "60 h", since="-5 h")], 0.0),
        ([present("does_not_wake_for_feeds", "60 h", since="61 h")], 60.0),
    ],
    ids=["since", "since of the first", "since of the second", "gone between", "born", "later"],
)
def test_it_began_at_the_earliest_instant_since_it_was_last_absent(entries, age_h):
    assert signs_seen(entries, BORN_AT, CONTENT)["does_not_wake_for_feeds"].age_h == age_h


def test_the_latest_entry_of_each_sign_decides_and_of_that_sign_alone():
    entries = [
        present("does_not_wake_for_feeds", "60 h"),
        present("blue", "60 h", 2),
        absent("does_not_wake_for_feeds", "61 h", 3),
    ]
    found = signs_seen(entries, BORN_AT, CONTENT)
    assert {key: one.present for key, one in found.items()} == {
        "does_not_wake_for_feeds": Truth.FALSE,
        "blue": Truth.TRUE,
    }
    assert (
        signs_seen([an_entry(Illness(what="does_not_wake_for_feeds"), "60 h")], BORN_AT, CONTENT)
        == {}
    )


@pytest.mark.parametrize("first", [present, absent])
@pytest.mark.parametrize("second", [present, absent])
def test_of_one_instant_what_was_entered_later_counts(first, second):
    a, b = first("does_not_wake_for_feeds", "60 h"), second("does_not_wake_for_feeds", "60 h", 2)
    b = msgspec.structs.replace(b, entered_at=b.entered_at + timedelta(minutes=1))
    for entries in ([a, b], [b, a]):
        found = signs_seen(entries, BORN_AT, CONTENT)["does_not_wake_for_feeds"].present
        assert found is (Truth.TRUE if second is present else Truth.FALSE)


def test_of_one_instant_and_one_entering_that_it_is_present_counts():
    a, b = present("limp", "60 h"), absent("limp", "60 h", 2)
    assert signs_seen([a, b], BORN_AT, CONTENT)["limp"].present is Truth.TRUE
    assert signs_seen([b, a], BORN_AT, CONTENT)["limp"].present is Truth.TRUE


def test_without_an_instant_of_birth_no_age_limit_calms_a_sign():
    found = signs_seen([present("blisters", "90 d")], None, CONTENT)["blisters"]
    assert (found.age_h, dict(found.gaps)["began"]) == (0.0, NOT_KNOWN)
    result = assessed(
        [present("blisters", "90 d"), present("no_feeding", "90 d", 2)], "91 d", births=False
    )
    assert codes(result.infants[0].findings) == {"blisters", "no-feeding"}


@pytest.mark.parametrize("key", SIGNS)
def test_a_sign_survives_silence_and_growing_older_never_lowers_it(key):
    about = ONE if SIGNS[key].about == "infant" else None
    entries = [present(key, "60 h", infant=about)]
    best = None
    for asked_at in ("60 h", "74 h", "96 h", "8 d", "17 d", "30 d", "100 d", "200 d", "400 d"):
        result = assessed(entries, asked_at)
        found = codes([*result.findings, *result.infants[0].findings])
        level = min((LEVELS[code] for code in found), default=len(ORDER))
        assert best is None or level <= best, asked_at
        best = level


@given(
    key=st.sampled_from(sorted(SIGNS)),
    began_h=st.integers(0, 2400),
    later_h=st.lists(st.integers(0, 9000), min_size=2, max_size=3),
)
def test_whenever_it_began_more_silence_never_lowers_a_sign(key, began_h, later_h):
    about = ONE if SIGNS[key].about == "infant" else None
    entries = [present(key, f"{began_h} h", infant=about)]
    levels = []
    for hours in sorted(later_h):
        result = assessed(entries, f"{began_h + hours} h")
        found = codes([*result.findings, *result.infants[0].findings])
        levels.append(min((LEVELS[code] for code in found), default=len(ORDER)))
    assert levels == sorted(levels, reverse=True)


@pytest.mark.parametrize("key", SIGNS)
def test_an_entry_that_it_is_absent_ends_only_what_needs_no_answer(key):
    """A fit that has stopped was one: only a physician's answer ends what a physician must see."""
    about = ONE if SIGNS[key].about == "infant" else None
    entries = [present(key, "60 h", infant=about), absent(key, "61 h", 2, about)]
    result = assessed(entries, "62 h")
    found = codes([*result.findings, *result.infants[0].findings])
    before = assessed(entries[:1], "62 h")
    needs_answer = SIGNS[key].ends == "answer"
    was = codes([*before.findings, *before.infants[0].findings])
    assert found == (was if needs_answer else set())
    answered = an_entry(Answer(who="physician", found="seen"), "61.5 h", 3, about)
    result = assessed([*entries, answered], "62 h")
    assert codes([*result.findings, *result.infants[0].findings]) == set()


def test_what_a_physician_must_see_ends_by_an_answer():
    alone = {
        flag.when.sign
        for flag in CONTENT.flags
        if flag.level in {"emergency", "physician"} and flag.when.sign in SIGNS
    }
    assert len(alone) > 40
    assert {key for key in alone if SIGNS[key].ends != "answer"} == set()


def test_the_sign_of_one_infant_does_not_touch_its_twin():
    result = assessed([present("limp", "60 h")], "61 h", infants=(ONE, TWIN))
    assert [codes(one.findings) for one in result.infants] == [{"limp"}, set()]
    assert result.findings == ()
    assert result.rank.tier is Tier.NOW


def test_a_sign_of_the_parent_stands_on_the_family_and_on_no_infant():
    result = assessed([present("chest_pain", "60 h", infant=None)], "61 h", infants=(ONE, TWIN))
    assert codes(result.findings) == {"chest-pain"}
    assert [codes(one.findings) for one in result.infants] == [set(), set()]
    assert result.rank.tier is Tier.NOW
    assert "chest pain" in in_sentences(result.rank.reason)


def test_a_key_that_the_vocabulary_does_not_know_is_looked_at_by_itself():
    result = assessed([present("no_such_sign", "60 h"), present("chest_pain", "60 h", 2)], "61 h")
    noted = [one for one in result.infants[0].findings if one.code == "sign-present"]
    assert sorted(in_sentences(one.messages).split(",")[0] for one in noted) == [
        "Noted: chest pain",
        "Noted: no_such_sign",
    ]


@given(
    key=st.sampled_from(sorted(SIGNS)),
    began_h=st.integers(0, 12000),
    later_h=st.integers(0, 2400),
)
def test_no_sign_that_is_present_is_silent(key, began_h, later_h):
    about = ONE if SIGNS[key].about == "infant" else None
    result = assessed([present(key, f"{began_h} h", infant=about)], f"{began_h + later_h} h")
    found = codes([*result.findings, *result.infants[0].findings])
    assert found
    assert (
        found == {"diaper-rash"}
        or min(LEVELS[code] for code in found) < ORDER.index("note")
        or (key == "breathing_50" and began_h < 28 * 24)
    )


def test_a_private_matter_is_not_named():
    result = assessed([present("not_safe", "60 h", infant=None)], "61 h")
    (finding,) = [one for one in result.findings if one.code == "private-matter"]
    text = in_sentences((*finding.messages, finding.to_whom, *result.rank.reason)).lower()
    assert "private matter" in text
    assert not any(word in text for word in ("safe", "home", "violence", "abuse"))


@pytest.mark.parametrize("text", ["cannot be woken", "green vomit", "yellow at 18 h", "fit, blue"])
def test_typed_words_are_never_red(text):
    result = assessed([an_entry(Illness(what=text), "60 h")], "61 h")
    (finding,) = [one for one in result.infants[0].findings if one.code == "illness-of-newborn"]
    assert finding.colour == "amber"
    assert in_sentences(finding.messages).startswith(f"Illness noted: {text} (since ")
    assert "Choose the sign within 4 hours, or enter" in in_sentences(finding.messages)
    assert not codes(result.infants[0].findings)


def test_a_rank_is_kept_no_longer_than_until_an_hour_at_which_a_sign_counts():
    until = assessed([present("no_feeding", "8 h")], "10 h").valid_until
    assert until <= BORN_AT + age_of("12 h")
    red = assessed([present("breast_red", "60.5 h", infant=None)], "84 h").valid_until
    assert red <= BORN_AT + age_of("84.5 h")


def test_the_words_of_a_vignette_reach_the_table():
    record = record_of(BOY, "60 h: sign limp; 61 h: no sign limp")
    assert [one.fact.present for one in record.entries[1:]] == [True, False]


def test_an_answer_does_not_cover_what_was_entered_after_it():
    late = msgspec.structs.replace(
        present("breathing_stops", "60 h"), entered_at=BORN_AT + timedelta(hours=62)
    )
    answered = an_entry(Answer(who="physician", found="seen"), "61 h", 2)
    assert codes(assessed([late, answered], "63 h").infants[0].findings) == {"breathing-stops"}
    later = an_entry(Answer(who="physician", found="seen"), "62.5 h", 3)
    assert codes(assessed([late, answered, later], "63 h").infants[0].findings) == set()


@pytest.mark.parametrize(
    ("more", "since_h", "due_h"),
    [
        ("", 60, 66),
        ("; 65 h: answer physician; 100 h: sign jaundice", 60, 106),
        ("; 65 h: answer physician; 90 h: no sign jaundice; 100 h: sign jaundice", 100, 106),
        ("; 90 h: no sign jaundice; 100 h: sign jaundice", 60, 66),
    ],
    ids=["once", "answered, noted again", "answered, gone, back", "gone, nobody answered, back"],
)
def test_what_comes_back_after_an_answer_is_not_late_since_the_first_time(more, since_h, due_h):
    record = record_of("girl, 39+3, 3300 g, vaginal", f"60 h: sign jaundice{more}")
    found = assess(record, BORN_AT + age_of("101 h"), CONTENT, Policy(zone="UTC"), engine=False)
    (one,) = (one for one in found.infants[0].findings if one.code == "jaundice")
    assert (one.at, one.due_at) == (
        BORN_AT + age_of(f"{since_h} h"),
        BORN_AT + age_of(f"{due_h} h"),
    )
