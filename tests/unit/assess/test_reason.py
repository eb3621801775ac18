"""How much of a reason fits: itself, who has taken it over, and the others, from the fullest on."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from msgspec.structs import replace

from spoken import in_sentences
from suffice.assess.reason import ASK_FIRST, MOST_WORDS, beside, length_of, with_others
from suffice.assess.results import Finding, HandedOver
from suffice.message import Amount, Instant, Listed, message

AT = datetime(2026, 3, 5, 4, tzinfo=UTC)
LONG = " ".join(["Word"] * 26)


def finding(*messages, **more):
    return Finding(
        code="few-wets",
        level="physician",
        colour="red",
        topic="output",
        name=message("few wets"),
        messages=messages,
        **more,
    )


def handed_over(says, briefly=""):
    return HandedOver(at=AT, says=says, briefly=briefly, holds=True)


def said(first, names=(), unknown=()):
    return in_sentences(
        with_others(first, [message(n) for n in names], [message(n) for n in unknown])
    )


def test_alone_it_is_said_as_it_is():
    assert said(finding("Few wets.")) == "Few wets."


@pytest.mark.parametrize(
    ("names", "unknown", "others"),
    [
        (["a loss"], [], "Also: a loss."),
        (["a loss", "urates"], [], "Also: a loss, urates."),
        (["a loss", "urates", "a fever"], [], "Also: a loss, urates, 1 more."),
        ([], ["no weight"], "Also: no weight."),
        ([], ["no weight", "no feeds"], "Also: other facts not known."),
        (["a loss"], ["no weight"], "Also: a loss, no weight."),
        (["a loss", "urates"], ["no weight"], "Also: a loss, urates, other facts not known."),
    ],
)
def test_at_most_two_others_are_named(names, unknown, others):
    assert said(finding("Few wets."), names, unknown) == f"Few wets. {others}"


def test_where_few_words_are_left_the_others_are_counted_and_then_left_out():
    first = " ".join(["Word"] * 23) + "."
    assert said(finding(first), ["a loss of weight", "urates"]) == f"{first} Also: 2 more."
    assert said(finding(f"{LONG} {LONG}."), ["a loss"]) == f"{LONG} {LONG}."


def test_since_when_it_is_late_makes_room_for_what_else_was_seen():
    first = finding(" ".join(["Word"] * 19) + ".")
    names = [message("few wets")]
    assert in_sentences(with_others(first, names, [], late_since=AT)).endswith(
        "Word. Late. Also: few wets."
    )
    alone = in_sentences(with_others(first, [], [], late_since=AT))
    assert "Late: due Thu 5 Mar, 04:00." in alone


def test_who_has_taken_it_over_is_said_briefly_where_there_is_a_brief_way():
    first = finding("Few wets.", handed_over=handed_over("To the ward at 4.", "To the ward."))
    assert said(first) == "Few wets. To the ward."
    assert said(finding("Few wets.", handed_over=handed_over("To the ward at 4."))) == (
        "Few wets. To the ward at 4."
    )


def test_what_is_too_long_with_it_loses_its_later_sentences_and_then_all_but_its_name():
    taken = handed_over("To the ward.")
    assert said(finding("Few wets.", f"{LONG}.", handed_over=taken)) == "Few wets. To the ward."
    assert said(finding(f"{LONG} and more.", handed_over=taken)) == "Few wets. To the ward."


def test_a_doubt_stays_however_short_the_rest_is_cut():
    first = finding(f"{LONG} and {LONG}.", ASK_FIRST, "two digits swapped?")
    assert said(first) == "Few wets. Ask first: Two digits swapped?"


def test_a_length_counts_what_fills_the_gaps():
    assert length_of([message("Lost {value} today.", value=Amount(9.1, "%"))]) >= 3
    assert length_of([message("{n} wet", plural="{n} wets of {n}", count=2, n=2)]) == 4
    assert length_of([message("Also: {names}.", names=Listed(("a loss", "urates")))]) == 4
    assert MOST_WORDS == 30


def test_an_emergency_that_was_handed_over_keeps_its_sentence_however_long():
    taken = HandedOver(
        at=AT,
        says=message("Handed over."),
        briefly=message("Handed over to the emergency service, answer by {by}.", by=Instant(AT)),
        answer_by=AT,
        holds=True,
    )
    for level, starts in (("emergency", LONG), ("physician", "few wets.")):
        first = replace(finding(f"{LONG}.", handed_over=taken), level=level)
        assert said(first).lower().startswith(starts.lower())
        assert "anded over" in said(first)
    briefly = " ".join(["Word"] * 20)
    assert said(replace(finding(f"{briefly}.", handed_over=taken), level="emergency")).startswith(
        f"{briefly}. Handed over, answer by"
    )


@pytest.mark.parametrize(
    ("words", "ends"), [(20, "Late: due Thu 5 Mar, 04:00."), (29, "Word. Late."), (30, "Word.")]
)
def test_that_it_is_late_is_left_out_before_the_sentence_is(words, ends):
    sentence = " ".join(["Word"] * words) + "."
    reason = in_sentences(with_others(finding(sentence), [], [], late_since=AT))
    assert reason.startswith(sentence)
    assert reason.endswith(ends)


def test_of_three_sentences_only_as_many_are_left_out_as_must_be():
    assert said(finding("Few wets.", "Two in a day.", LONG)) == "Few wets. Two in a day."


def test_of_three_sentences_two_are_left_out_where_one_is_not_enough():
    assert said(finding("Few wets.", f"{LONG} {LONG}", LONG)) == "Few wets."


@pytest.mark.parametrize(
    ("words", "kept"), [(24, 2), (25, 1), (40, 1)], ids=["fits", "one too many", "never its own"]
)
def test_behind_what_stands_first_a_reason_loses_its_end_and_never_its_sentence(words, kept):
    died = (message("The infant has died."),)
    reason = (message(" ".join(["Word"] * words)), message("Noted twice."))
    assert beside(died, reason) == (*died, *reason[:kept])
    assert beside((), reason) == reason
