"""Answers that cannot both be so are found; what was not asked, or has another side, is no contradiction."""

from __future__ import annotations

import pytest

from suffice.assess.problems.contradiction import NOTHING, contradictions
from suffice.assess.problems.found import Finds, is_by_side
from suffice.assess.problems.words import contradiction_words
from suffice.assess.rules.table import Found, Side
from suffice.knowledge.asked import read_asked
from suffice.knowledge.observable import FOLDER, KnownFact, Observable
from suffice.knowledge.schema import Condition
from suffice.knowledge.store import load

CONTENT = load()
ROWS = CONTENT.guide.contradictions


def fact_of(key: str) -> Observable | KnownFact:
    word = CONTENT.vocabularies[FOLDER].get(key)
    return word if isinstance(word, Observable) else CONTENT.known[key]


def finds(text: str) -> Finds:
    """``left redness none; left red_h 30``: as in the tables of tests/spec/problems."""
    found: dict[str, list[Found]] = {}
    for part in text.split(";"):
        *side, key, answer = part.split()
        where: Side = side[0] if side else ""  # type: ignore[assignment]  # left or right
        fact = fact_of(key)
        is_number = fact.type == "number"
        one = (
            Found((), float(answer), where)
            if is_number
            else Found(tuple(answer.split("|")), None, where)
        )
        found.setdefault(key, []).append(one)
    return {key: tuple(those) for key, those in found.items()}


def said(text: str) -> list[str]:
    return [str(contradiction_words(one, CONTENT)) for one in contradictions(finds(text), CONTENT)]


@pytest.mark.parametrize(
    "text",
    [
        "left redness none; left red_h 30",
        "left redness none; left red_where i1|i2",
        "left redness none; left red_change larger",
        "redness none; left red_h 30",
        "left redness none; right redness none; breast_red_sign yes",
        "right lump none; right lump_cm 2",
        "left pain_when never; left pain_end 5",
        "left pain_when first_seconds; left pain_end 4",
        "left shield none; right shield none; shield_days 10",
        "refuses no; refusal_when near",
        "feeding_now breast; given_by none|cup",
        "feeding_now breast; powder more_water",
        "takes_nothing yes; feeds_24h 8",
        "takes_nothing yes; left swallows long",
        "left swallows none; right swallows none; transfer_ml 60",
        "fed_before first_child; births 2",
        "fed_before full; births 1",
        "self_harm_item never; self_harm yes",
        "milk_not_in yes; milk_onset_h 60",
        "wakes_for_feeds always; hard_to_wake yes",
    ],
)
def test_what_cannot_both_be_so_is_asked_about(text: str) -> None:
    assert len(said(text)) == 1, said(text)


@pytest.mark.parametrize(
    "text",
    [
        "left redness none",
        "left red_h 30",
        "left redness none; right red_h 30",
        "left redness none; right redness patch; left red_h 0; right red_h 30",
        "left redness none; left red_change gone",
        "left redness none; breast_red_sign yes",
        "left redness none; right redness patch; breast_red_sign yes",
        "left lump none; left lump_sore painless",
        "left pain_when never; left pain_end 0",
        "left pain_when first_seconds; left pain_end 3",
        "left shield none; right shield all; shield_days 10",
        "refuses no; refusal_when letdown; refuses one_side",
        "feeding_now breast; given_by none",
        "feeding_now own_milk; given_by cup",
        "takes_nothing yes; feeds_24h 7",
        "left swallows none; transfer_ml 60",
        "left swallows none; right swallows long; transfer_ml 60",
        "left swallows none; right swallows none; transfer_ml 59",
        "fed_before first_child; births 1",
        "fed_before full; births 2",
        "self_harm_item any; self_harm yes",
        "bunched none; bunched_days 0",
        "diabetes not_known; breast_risk diabetes",
    ],
)
def test_what_can_both_be_so_or_was_not_asked_is_not(text: str) -> None:
    if text.count("refuses ") > 1:
        text = text.replace("refuses no; ", "")
    assert said(text) == []


def test_it_says_both_with_their_side_and_answer() -> None:
    (found,) = contradictions(finds("left redness none; left red_h 30; left red_cm 4"), CONTENT)
    assert found.keys == {"redness", "red_h", "red_cm"}
    words = str(contradiction_words(found, CONTENT))
    for part in ("redness of the breast", "left", "none", "; but ", "30", "4"):
        assert part in words, words


def test_each_side_is_asked_about_by_itself() -> None:
    text = "left redness none; left red_h 30; right redness none; right red_h 2"
    assert len(said(text)) == 2


def test_of_several_answers_only_those_that_do_not_fit_are_named() -> None:
    (found,) = contradictions(
        finds("left nipple_harm none; left harm_place tip; left harm_days 3"), CONTENT
    )
    assert [one.key for one in found.others] == ["harm_place", "harm_days"]
    (found,) = contradictions(finds("nicotine none; vessels_narrowed caffeine|nicotine"), CONTENT)
    assert found.others[0].found.answers == ("nicotine",)


def way(asked: Condition, side: Side) -> dict[str, Found]:
    """Finds that make a condition so."""
    if asked.answers:
        where = side if is_by_side(asked.find, CONTENT) else ""
        return {asked.find: Found((asked.answers[0],), None, where)}
    if asked.compare is not None:
        value = CONTENT.constant(asked.limit).value
        apart = {">=": 0.0, "<=": 0.0, ">": 1.0, "<": -1.0}[asked.compare]
        return {asked.find: Found((), value + apart)}
    parts = asked.all_of or asked.any_of[:1]
    return {key: one for part in parts for key, one in way(part, side).items()}


def anything(key: str, side: Side) -> dict[str, Found]:
    fact = fact_of(key)
    where = side if is_by_side(key, CONTENT) else ""
    if fact.type == "number":
        return {key: Found((), 1.0, where)}
    answers = [one for one in fact.answers if one not in NOTHING]
    return {key: Found((answers[0],), None, where)}


def finds_for(row_number: int, key: str) -> Finds:
    """Both halves of a row, on each side that it compares."""
    row = ROWS[row_number]
    found: dict[str, list[Found]] = {}
    for side in ("left", "right") if row.both_sides else ("left",):
        halves = way(read_asked(row.when), side)
        halves |= anything(key, side) if key else way(read_asked(row.also), side)
        for name, one in halves.items():
            if one not in found.setdefault(name, []):
                found[name].append(one)
    return {name: tuple(those) for name, those in found.items()}


HALVES = [
    (number, key)
    for number, row in enumerate(ROWS)
    for key in (*row.found, *(("",) if row.also else ()))
]


@pytest.mark.parametrize(("row", "key"), HALVES)
def test_every_row_can_be_asked_about_and_not_by_one_half(row: int, key: str) -> None:
    whole = finds_for(row, key)
    assert contradictions(whole, CONTENT), whole
    for left_out in whole:
        rest = {name: one for name, one in whole.items() if name != left_out}
        if len(whole) == 2:
            assert contradictions(rest, CONTENT) == (), rest


def test_as_expected_all_over_contradicts_nothing() -> None:
    """What one tap puts on the record is never asked about."""
    words = CONTENT.vocabularies[FOLDER]
    found = {
        key: (Found((one.expected[0],)),)
        for key, one in words.items()
        if isinstance(one, Observable) and one.expected and one.type != "number"
    }
    assert contradictions(found, CONTENT) == ()
