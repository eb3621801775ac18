"""Answers of the contact that say a sign: they count as the sign however they were entered."""

from __future__ import annotations

from msgspec.structs import replace

from spec.vignette import BORN_AT, age_of, record_of
from suffice.assess.review.observed_signs import with_observed_signs
from suffice.clinical.entry import Sign
from suffice.knowledge.store import load

GIRL = "girl, 40+0, 3400 g, vaginal"
CONTENT = load()


def own(seen):
    return tuple(one for one in record_of(GIRL, seen).entries if one.infant_id is None)


def signs(entries):
    found = with_observed_signs(entries, CONTENT)
    return [(one.fact.sign, one.true_at, one.id) for one in found if isinstance(one.fact, Sign)]


def test_an_answer_that_says_a_sign_counts_as_it():
    entries = own("42 d: parent observed self_harm_item any")
    (one,) = entries
    assert signs(entries) == [("self_harm", one.true_at, one.id)]


def test_an_answer_that_says_none_adds_nothing():
    for seen in ("self_harm_item never", "mood_total 14", "no_such_thing any"):
        entries = own(f"42 d: parent observed {seen}")
        assert with_observed_signs(entries, CONTENT) == entries


def test_the_sign_that_stands_beside_the_answer_is_not_said_twice():
    entries = own("42 d: parent observed self_harm_item any; 42 d: parent sign self_harm")
    assert len(signs(entries)) == 1
    later = own("42 d: parent observed self_harm_item any; 43 d: parent sign self_harm")
    assert len(signs(later)) == 2


def test_it_began_when_the_answer_says():
    (one,) = own("42 d: parent observed lump gives")
    since = BORN_AT + age_of("41 d")
    dated = replace(one, fact=replace(one.fact, since=since))
    said, kept = with_observed_signs((dated,), CONTENT)
    assert said.fact == Sign(sign="breast_lump", present=True, since=since)
    assert kept == dated


def test_two_choices_of_one_answer_that_say_the_same_are_one_sign():
    (one,) = own("42 d: parent observed skin dimple")
    two = replace(one, fact=replace(one.fact, what="skin_change", answer="dimple|peel"))
    words = CONTENT.vocabularies["observations"]
    key = next(key for key, word in words.items() if getattr(word, "signs", {}).get("peel"))
    two = replace(two, fact=replace(two.fact, what=key))
    assert [sign for sign, _, _ in signs((two,))] == ["breast_skin"]
